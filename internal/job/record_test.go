package job

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"evendraw/internal/hint"
	"evendraw/internal/invented"
	"evendraw/internal/session"
	"evendraw/internal/settings"
)

// Of a capture that the user has named another name is what helps where the disk is full, else another garage.
func TestACaptureOnAFullDisk(t *testing.T) {
	t.Parallel()
	g, _ := invented.Twin(t)
	set := &settings.Settings{World: &settings.World{}, Garage: g}
	for name, want := range map[string]string{"": "--garage DIR", filepath.Join(t.TempDir(), "x.cap"): "another name"} {
		c, err := newCaptureFile(set, name, "", &session.Config{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Close(); err != nil {
			t.Error(err)
		}
		if got := hint.Of(c.notWhole(syscall.ENOSPC)); !strings.Contains(got, "the disk is full") ||
			!strings.Contains(got, want) {
			t.Errorf("%q: hint %q", name, got)
		}
	}
}
