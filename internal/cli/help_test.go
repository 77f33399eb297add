package cli

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"evendraw/internal/manual"
)

// The manual has a page for each verb, the same each time.
func TestManual(t *testing.T) {
	t.Parallel()
	read := func() map[string]string {
		dir := t.TempDir()
		if err := manual.Write(NewRoot("1.0.0"), dir, time.Unix(0, 0)); err != nil {
			t.Fatal(err)
		}
		pages := map[string]string{}
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			text, _ := os.ReadFile(filepath.Join(dir, e.Name()))
			pages[e.Name()] = string(text)
		}
		return pages
	}
	pages, again := read(), read()
	for _, c := range NewRoot("1.0.0").Commands() {
		if name := "evendraw-" + c.Name() + ".1"; !c.Hidden && c.Runnable() &&
			!strings.Contains(pages[name], c.Short[:10]) {
			t.Errorf("%s: %q", name, pages[name])
		}
	}
	for name, text := range pages {
		if again[name] != text {
			t.Errorf("%s differs from time to time", name)
		}
	}
}

// A double click on Windows is welcome.
func TestADoubleClickIsWelcome(t *testing.T) {
	t.Parallel()
	evendraw(t, t.TempDir(), "paths")
	if cobra.MousetrapHelpText != "" {
		t.Error("a double click is refused")
	}
}

// Where there is JSON, its help says the keys, or where they stand.
func TestHelpSaysTheKeysOfJSON(t *testing.T) {
	t.Parallel()
	var look func(c *cobra.Command)
	look = func(c *cobra.Command) {
		if f := c.Flags().Lookup("json"); f != nil && !strings.Contains(f.Usage, ":") &&
			!strings.Contains(f.Usage, "evendraw schema") && !strings.Contains(c.Long, "With --json each line has") {
			t.Errorf("%s --json: %q", c.CommandPath(), f.Usage)
		}
		for _, sub := range c.Commands() {
			look(sub)
		}
	}
	look(NewRoot("1.0.0"))
}

// keysOf collects the keys of a JSON value, or of those in a list or a summary; not what is in them.
func keysOf(v any, keys map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		if summary := v["summary"]; summary != nil {
			keysOf(summary, keys)
			return
		}
		for key := range v {
			keys[key] = true
		}
	case []any:
		for _, inner := range v {
			keysOf(inner, keys)
		}
	}
}

// The help of a verb whose keys are in no schema says every key that it prints.
func TestHelpSaysEveryKey(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 2)
	still := pulsing(t, dir, "still.csv", false, 0)
	evendraw(t, dir, "bench", "--bike", "Invented Four", "--pilot", "2")
	evendraw(t, dir, "bench", "--bike", "Invented Four", "--pilot", "1", "--together")
	for verb, args := range map[string]string{"mixture": "--practice --auto --fast --for 60s",
		"mixture raised": "--practice --auto --fast", "leaks": "--practice --auto --fast --for 40s",
		"mixture gas": "--co 0.5 --co2 14.2 --hc 120 --o2 0.6", "zero": "--from " + still, "match": "--practice",
		"board check": "--practice", "board kind": "MPX4115A", "bike list": "", "garage check": "", "paths": "",
		"history": "", "trend": "", "bench list": "", "bench show": "", "bench compare": "",
		"bench check": "--done vents", "bench": "--pilot 2"} {
		t.Run(verb, func(t *testing.T) {
			if writes := strings.HasPrefix(verb, "bench") || verb == "garage check"; !writes {
				t.Parallel() // by the virtual clock, what another just writes is old, and swept away
			}
			words := append(strings.Fields(verb), "--json", "--bike", "Invented Four")
			if strings.Contains(args, "--practice") {
				words = words[:len(words)-2]
			}
			r := virtually(t, dir, append(words, strings.Fields(args)...)...)
			keys := map[string]bool{}
			for d := json.NewDecoder(strings.NewReader(r.out)); ; {
				var v any
				if err := d.Decode(&v); err == io.EOF {
					break
				} else if err != nil {
					t.Fatalf("%v in %q; %s", err, r.out, r.err)
				}
				keysOf(v, keys)
			}
			help := evendraw(t, dir, append(strings.Fields(verb), "--help")...).out
			for key := range keys {
				if !regexp.MustCompile(`\b` + regexp.QuoteMeta(key) + `\b`).MatchString(help) {
					t.Errorf("%q is not in the help", key)
				}
			}
			if len(keys) == 0 {
				t.Errorf("no keys: %q %s", r.out, r.err)
			}
		})
	}
}

// No line of any help is broken by a terminal of 80 columns, but a command to be copied.
func TestHelpIsNarrow(t *testing.T) {
	t.Parallel()
	var look func(c *cobra.Command)
	look = func(c *cobra.Command) {
		var out strings.Builder
		c.SetOut(&out)
		writeHelp(c, nil)
		if strings.Contains(out.String(), "default 0s") {
			t.Errorf("%s: a limit that is none is shown", c.CommandPath())
		}
		for line := range strings.SplitSeq(out.String(), "\n") {
			if n := utf8.RuneCountInString(line); n > 79 && !strings.HasPrefix(line, "  evendraw ") &&
				!strings.Contains(line, "sqlite3 all.db '") {
				t.Errorf("%s: %d columns: %s", c.CommandPath(), n, line)
			}
		}
		for _, sub := range c.Commands() {
			look(sub)
		}
	}
	look(NewRoot("1.0.0"))
	// What stands in columns goes on below itself, paragraphs stay apart, and nothing is lost.
	words := func(n int) string { return strings.TrimSpace(strings.Repeat("word ", n)) }
	want := "  name   " + words(14) + "\n         " + words(6) + "\n\nA b.\n"
	if got := wrapped("  name   " + words(20) + "\n\nA\nb.\n"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
