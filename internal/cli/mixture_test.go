package cli

import (
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"
)

// The virtual mechanic trims a whole practice bank: JSON lines, a summary with every
// screw set, and the same kind of figures at each; the last word is to stop the engine.
func TestMixtureByTheVirtualMechanic(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := evendraw(t, dir, "mixture", "--practice", "--auto", "--fast", "--json", "--cylinder", "1")
	if kept, _ := filepath.Glob(filepath.Join(dir, "*")); len(kept) != 0 {
		t.Errorf("a trial of the trim has kept %v", kept)
	}
	if r.status != 0 {
		t.Fatalf("status %d: %s", r.status, r.err)
	}
	lines := strings.Split(strings.TrimSpace(r.out), "\n")
	var last struct {
		Summary struct {
			Step   string
			RPM    *float64 `json:"rpm"`
			Pilots []struct {
				Found string
				Out   *float64 `json:"turns_out"`
				Width *float64 `json:"uncertainty_turns"`
			}
		}
	}
	if err := json.Unmarshal([]byte(lines[len(lines)-1]), &last); err != nil {
		t.Fatal(err)
	}
	s := last.Summary
	if s.Step != "all-set" || len(s.Pilots) != 4 || s.Pilots[0].Out == nil || s.Pilots[0].Width == nil ||
		s.Pilots[1].Found != "" {
		t.Errorf("%+v", s)
	}
	for i, line := range lines[:len(lines)-1] {
		var any map[string]any
		if err := json.Unmarshal([]byte(line), &any); err != nil || any["step"] == nil {
			t.Fatalf("line %d: %v: %s", i, err, line)
		}
	}
	if len(lines) < 100 || !strings.Contains(r.err, "carbon monoxide") || !strings.HasSuffix(r.err, stillRuns) {
		t.Errorf("%d lines; on standard error: %s", len(lines), r.err)
	}
}

// stillRuns is the last word of what leaves the engine idling.
const stillRuns = "\nThe engine still runs. Stop it, unless you go on at once: without wind it overheats.\n"

func TestMixtureRaised(t *testing.T) {
	t.Parallel()
	r := evendraw(t, t.TempDir(), "mixture", "raised", "--practice", "--auto", "--fast")
	if r.status != 0 || !strings.Contains(r.out, "Spread ") || !strings.Contains(r.out, "HOLD") {
		t.Errorf("status %d: %s\n%s", r.status, r.out, r.err)
	}
	if !strings.Contains(r.out, "\nNow let go of the throttle.\n") || !strings.HasSuffix(r.err, stillRuns) {
		t.Errorf("ends with %q and %q", r.out[max(len(r.out)-200, 0):], r.err[max(len(r.err)-200, 0):])
	}
}

func TestMixtureGas(t *testing.T) {
	t.Parallel()
	r := evendraw(t, t.TempDir(), "mixture", "gas", "--co", "8.49", "--co2", "9.93", "--hc", "330", "--o2", "0.15",
		"--json")
	var got map[string]float64
	// A published row: 0.77 (see package mixture).
	if err := json.Unmarshal([]byte(r.out), &got); err != nil || math.Abs(got["lambda"]-0.77) > 0.01 {
		t.Errorf("%v %s %s", err, r.out, r.err)
	}
}
