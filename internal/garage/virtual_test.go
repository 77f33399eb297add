package garage

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// What a garage decides by time, by the clock that is handed in.

// at makes an empty file that was last changed at that time.
func at(t *testing.T, path string, when time.Time) string {
	t.Helper()
	must(t, os.WriteFile(path, nil, 0o666))
	must(t, os.Chtimes(path, when, when))
	return path
}

// What killed programs left is swept when it is older than store.SweepAge by the garage's clock, or as far
// in the future; nothing else is.
func TestSweepLeavesOthers(t *testing.T) {
	t.Parallel()
	now := time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	const ms = time.Millisecond
	g := openTest(t)
	p := g.bikePaths("x")
	must(t, os.MkdirAll(p.Syncs, 0o777))
	const tempEnding = ".evendraw-tmp"
	gone := []string{
		at(t, filepath.Join(p.Dir, ".bike.toml"+"-12345678"+tempEnding), now.Add(-store.SweepAge-ms)),
		at(t, filepath.Join(p.Dir, ".bike.toml.evendraw-lock"), now.Add(-24*time.Hour)),
		at(t, filepath.Join(p.Syncs, ".a.level"+tempEnding), now.Add(store.SweepAge+ms)),
		at(t, filepath.Join(g.dir, ".last-1"+tempEnding), now.Add(-store.SweepAge-ms)),
	}
	old := now.Add(-24 * time.Hour)
	stay := []string{
		at(t, filepath.Join(p.Dir, ".bike.toml"+"-1"+tempEnding), now.Add(-store.SweepAge)),
		at(t, filepath.Join(p.Dir, ".bike.toml"+"-2"+tempEnding), now.Add(store.SweepAge)),
		at(t, filepath.Join(p.Dir, ".bike.toml"+"-3"+tempEnding), now),
		at(t, filepath.Join(p.Dir, ".hidden"), old),
		at(t, filepath.Join(p.Dir, "x"+tempEnding), old),
		at(t, p.Card, old),
	}
	open(g.dir, func() time.Time { return now })
	for _, path := range gone {
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s is left", path)
		}
	}
	for _, path := range stay {
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
	}
}

// A running program's record is not offered to another one; that of a program that is
// gone, or of one that has not written for longer than heldFor, is.
func TestUnfinishedInUse(t *testing.T) {
	t.Parallel()
	now := time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	g, path := leftBehind(t)
	g.now = func() time.Time { return now }
	var f unfinishedFile
	_, err := loadSealed(path, &f)
	must(t, err)
	host, _ := os.Hostname()
	const ms = time.Millisecond
	for _, c := range []struct {
		name    string
		host    string
		process int
		age     time.Duration
		listed  bool
	}{
		{"of a running program", host, os.Getppid(), 0, false},
		{"of a running program, as old as may be", host, os.Getppid(), heldFor, false},
		{"of a running program, too old", host, os.Getppid(), heldFor + ms, true},
		{"of a running program, of the future", host, os.Getppid(), -heldFor - ms, true},
		{"of another laptop", "another-laptop", 1, 0, false},
		{"of another laptop, as old as may be", "another-laptop", 1, heldFor, false},
		{"of another laptop, too old", "another-laptop", 1, heldFor + ms, true},
		{"of a program that is gone", host, 1 << 30, 0, true},
		{"of this program", host, os.Getpid(), 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			if !store.Running(os.Getppid()) && c.process == os.Getppid() {
				t.Skip("what started this test is no process here: Wine was started by a program of Linux")
			}
			f.Host, f.Process = plain.Lines(c.host), c.process
			text, err := sealedText(&f, nil)
			must(t, err)
			must(t, os.WriteFile(path, text, 0o666))
			must(t, os.Chtimes(path, now.Add(-c.age), now.Add(-c.age)))
			if left, damaged := g.ListUnfinished(); (len(left) == 1) != c.listed || damaged != nil {
				t.Errorf("listed: %v, %v", len(left) == 1, damaged)
			}
		})
	}
}
