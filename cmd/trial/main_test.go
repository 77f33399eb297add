package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/effort"
)

// trialled runs the trial.
func trialled(t *testing.T, args ...string) (out, errOut string, status int) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(t.Context(), args, &o, &e)
	return o.String(), e.String(), status
}

// The same seed gives the same report, which has the keys that others read.
func TestReport(t *testing.T) {
	t.Parallel()
	args := []string{"-bikes", "1", "-seed", "5", "-linkage", "twin", "-json"}
	plot := filepath.Join(t.TempDir(), "spread.svg")
	first, errOut, status := trialled(t, append(args, "-plot", plot)...)
	if status != 0 {
		t.Fatalf("status %d: %s", status, errOut)
	}
	if effort.Whole() {
		if again, _, _ := trialled(t, args...); again != first {
			t.Errorf("same seed, other report: %s%s", first, again)
		}
	}
	var report map[string]any
	if err := json.Unmarshal([]byte(first), &report); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"bikes", "levelled_share", "levelled_fine_share", "false_done", "turns_median",
		"idle_s_median", "rival", "by_linkage"} {
		if _, ok := report[key]; !ok {
			t.Errorf("no %s in %s", key, first)
		}
	}
	if svg, err := os.ReadFile(plot); err != nil || !strings.Contains(string(svg), "<svg") {
		t.Errorf("plot: %v", err)
	}
}

func TestWrongUse(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"linkage":      {[]string{"-linkage", "nine"}, "paired four"},
		"condition":    {[]string{"-with", "fog"}, "no condition"},
		"no bikes":     {[]string{"-bikes", "0"}, "at least one"},
		"pilots' plot": {[]string{"-pilot-screws", "-plot", "x.svg"}, "go with"},
		"air alone":    {[]string{"-air-screws"}, "-pilot-screws"},
		"a name":       {[]string{"ten"}, "flags"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if _, errOut, status := trialled(t, c.args...); status != exitUsage || !strings.Contains(errOut, c.says) {
				t.Errorf("status %d: %s", status, errOut)
			}
		})
	}
}
