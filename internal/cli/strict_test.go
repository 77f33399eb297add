package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
)

// TestStrictCheckOfFiles holds good, wrong and printed bytes against the
// protocol, as a writer of a board's program would.
func TestStrictCheckOfFiles(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	good := make([]byte, 60_000)
	e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 1, Running: true})
	for n := 0; n < len(good); {
		k, err := e.Read(good[n:])
		if err != nil {
			t.Fatal(err)
		}
		n += k
	}
	if r, got := strictJSON(t, dir, "good", good); r.status != 0 || len(got["findings"].([]any)) != 0 ||
		got["frames"].(float64) < 2000 {
		t.Errorf("good bytes: %+v", r)
	}
	for name, c := range map[string]struct {
		in   []byte
		rule frame.Rule
	}{
		"single delimiters": {bytes.ReplaceAll(good, []byte{0, 0}, []byte{0}), frame.RuleDelimiters},
		"no announcements":  {[]byte("hello, I am a board\r\n"), frame.RuleAnnounced},
		"a flipped bit": {append(append(bytes.Clone(good[:30_010]), good[30_010]^0x20), good[30_011:]...),
			frame.RuleCRC},
	} {
		t.Run(name, func(t *testing.T) {
			r, got := strictJSON(t, dir, name, c.in)
			list := got["findings"].([]any)
			if r.status != 1 || len(list) != 1 || list[0].(map[string]any)["rule"] != string(c.rule) ||
				!strings.Contains(r.err, "hint:") {
				t.Errorf("%+v", r)
			}
		})
	}
}

// strictJSON holds a file of that content against the protocol.
func strictJSON(t *testing.T, dir, name string, content []byte) (result, map[string]any) {
	t.Helper()
	r := evendraw(t, dir, "board", "check", "--strict", "--json", strictFile(t, dir, name, content))
	var got map[string]any
	if err := json.Unmarshal([]byte(r.out), &got); err != nil {
		t.Fatalf("%v: %+v", err, r)
	}
	return r, got
}

func strictFile(t *testing.T, dir, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestStrictCheckOfLines does so with printed lines.
func TestStrictCheckOfLines(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	printed := strictFile(t, dir, "printed", []byte("# rate 500\n"+strings.Repeat("500,501,502,503\n", 200)))
	if r := evendraw(t, dir, "board", "check", "--strict", printed); r.status != 0 ||
		!strings.Contains(r.out, "lost lines don't show") || !strings.Contains(r.out, "Every rule") {
		t.Errorf("printed lines: %+v", r)
	}
	row := "500,501,502,503\n"
	clock := func(from, to int) (s string) {
		for k := from; k < to; k++ {
			s += fmt.Sprintf("%d,500,501\n", 1_000_000+2000*k)
		}
		return s
	}
	for name, c := range map[string]struct {
		in   string
		rule frame.Rule
		at   int
	}{
		"a letter": {"boot 2.1\n# rate 500\n" + strings.Repeat(row, 100) + "500,5x1,502,503\n" +
			strings.Repeat(row, 9), frame.RuleLine, 20 + 1600 + 5},
		"a letter soon": {"# rate 500\n" + strings.Repeat(row, 3) + "500,\n" + strings.Repeat(row, 100), frame.RuleLine,
			11 + 48 + 3},
		"a number less": {"# rate 500\n" + strings.Repeat(row, 100) + "500,501,502\n" + strings.Repeat(row, 9),
			frame.RuleColumns, 11 + 1600},
		"others first": {"# rate 500\n1,2\n1,2\n" + strings.Repeat(row, 100) + "1,2\n", frame.RuleColumns, 11 + 8},
		"too large": {"# rate 500\n# bits 10\n" + strings.Repeat(row, 100) + "500,501,1024,503\n", frame.RuleCount,
			21 + 1600},
		"no rate":     {strings.Repeat(row, 200), frame.RuleTime, 200 * 16},
		"few":         {"# rate 500\n" + strings.Repeat(row, 50), frame.RuleLine, 11 + 50*16},
		"a hole":      {clock(0, 100) + clock(103, 200), frame.RuleClock, 100 * 16},
		"a new start": {clock(0, 100) + clock(0, 100), frame.RuleClock, 100 * 16},
	} {
		t.Run(name, func(t *testing.T) {
			r, got := strictJSON(t, dir, "lines", []byte(c.in))
			list := got["findings"].([]any)
			if len(list) != 1 || r.status != 1 {
				t.Fatalf("%+v", r)
			}
			if f := list[0].(map[string]any); f["rule"] != string(c.rule) || f["byte"] != float64(c.at) ||
				name != "others first" && f["times"] != 1.0 || !strings.Contains(r.err, "a rule of") {
				t.Errorf("want %s at %d: %+v", c.rule, c.at, r)
			}
		})
	}
}
