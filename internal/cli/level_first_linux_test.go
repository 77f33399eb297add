//go:build linux

package cli

import (
	"strings"
	"testing"
)

// A trim beside a bank that is not level waits until it is told to begin all the same.
func TestATrimWaitsForALevelBank(t *testing.T) {
	t.Parallel()
	p := startPTY(t, 100, 30, []string{"EVENDRAW_GARAGE=" + t.TempDir()}, binary,
		"mixture", "--practice=unseated-linkage")
	p.await("Enter begins all the same", 0)
	if out := p.output(); !strings.Contains(out, "LEVEL FIRST") ||
		!strings.Contains(out, "The bank is not level: spread ") ||
		strings.Contains(out, "PILOT 1") {
		t.Errorf("%q", out)
	}
	mark := len(p.output())
	p.mine.WriteString("\r")
	p.await("WAIT", mark)
	p.mine.WriteString("q\r")
	p.gone("q", 0)
}

// Where nobody can answer it is said, and the trim begins.
func TestATrimOfAnUnlevelBankSaysSo(t *testing.T) {
	t.Parallel()
	r := evendraw(t, t.TempDir(), "mixture", "--practice=unseated-linkage", "--auto", "--fast", "--json",
		"--for", "40s")
	if strings.Count(r.err, "The bank is not level: spread ") != 1 || !strings.Contains(r.out, `"step":"turn"`) {
		t.Errorf("status %d: %s", r.status, r.err)
	}
	level := evendraw(t, t.TempDir(), "mixture", "--practice", "--auto", "--fast", "--json", "--for", "5s")
	if strings.Contains(level.err, "not level") {
		t.Error(level.err)
	}
}
