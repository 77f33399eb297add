package garage

import (
	"errors"
	"evendraw/internal/plain"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"
)

// What a garage decides by time: in virtual time, or by the clock that is handed in.

// lockPoll is the longest that whoever waits for a lock sleeps between two looks at it.
const lockPoll = 3 * time.Millisecond

// lockedCard is a garage with a card, its lock's path, and a save that needs the lock. The time
// within a bubble begins in the year 2000, so that a lock there must be given its time.
func lockedCard(t *testing.T) (lock string, save func() error) {
	t.Helper()
	g := openTest(t)
	b := DefaultBike(killBike, 2)
	must(t, g.NewBike(&b))
	p, err := g.BikePaths(killBike)
	must(t, err)
	n := 0.0
	return besidePath(p.Card, "", lockEnding), func() error {
		n++
		return g.SaveEffects(killBike, map[string]float64{"1-2": n})
	}
}

// hold writes the lock of another program, last changed so long ago.
func hold(t *testing.T, lock, token string, ago time.Duration) {
	t.Helper()
	must(t, os.WriteFile(lock, []byte(token), 0o666))
	at := time.Now().Add(-ago)
	must(t, os.Chtimes(lock, at, at))
}

// A lock that is left behind is taken away: at once when it is older than staleAge, or so far in the
// future; when it gets so old; and else when it has not changed for stalePatience.
func TestLeftLock(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		age   time.Duration
		takes time.Duration
	}{
		{"none", -1, 0},
		{"old", staleAge + time.Millisecond, 0},
		{"of the future", -staleAge - time.Second, 0},
		{"nearly old", staleAge - time.Second, time.Second},
		{"just now", 0, stalePatience},
		{"in a second", -time.Second, stalePatience},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				lock, save := lockedCard(t)
				if c.name != "none" {
					hold(t, lock, "dead", c.age)
				}
				begun := time.Now()
				must(t, save())
				if took := time.Since(begun); took < c.takes || took > c.takes+2*lockPoll {
					t.Errorf("took %v, want %v", took, c.takes)
				}
				if _, err := os.Stat(lock); !errors.Is(err, os.ErrNotExist) {
					t.Errorf("the lock is left: %v", err)
				}
			})
		})
	}
}

// A program that holds the lock is waited for, and one after the other gets it, as long as that takes no
// more than lockPatience; then the save is refused, and the lock is left alone.
func TestLockIsWaitedFor(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		holders int // one a second
		refused bool
	}{{"one", 1, false}, {"seven", 7, false}, {"nine", 9, true}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				lock, save := lockedCard(t)
				hold(t, lock, "0", 0)
				gone := make(chan struct{})
				go func() { // the others, each with a token of its own
					defer close(gone)
					for n := range c.holders {
						time.Sleep(time.Second)
						if n < c.holders-1 {
							hold(t, lock, string(rune('1'+n)), 0)
						}
					}
					must(t, os.Remove(lock))
				}()
				begun := time.Now()
				err := save()
				took, want := time.Since(begun), min(time.Duration(c.holders)*time.Second, lockPatience)
				if errors.Is(err, errLocked) != c.refused || !c.refused && err != nil {
					t.Errorf("%v, refused must be %v", err, c.refused)
				}
				if took < want || took > want+2*lockPoll {
					t.Errorf("%v after %v, want %v", err, took, want)
				}
				<-gone
			})
		})
	}
}

// at makes an empty file that was last changed at that time.
func at(t *testing.T, path string, when time.Time) string {
	t.Helper()
	must(t, os.WriteFile(path, nil, 0o666))
	must(t, os.Chtimes(path, when, when))
	return path
}

// What killed programs left is swept when it is older than sweepAge by the garage's clock, or as far
// in the future; nothing else is.
func TestSweepLeavesOthers(t *testing.T) {
	t.Parallel()
	now := time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	const ms = time.Millisecond
	g := openTest(t)
	p := g.bikePaths("x")
	must(t, os.MkdirAll(p.Syncs, 0o777))
	gone := []string{
		at(t, besidePath(p.Card, "-12345678", tempEnding), now.Add(-sweepAge-ms)),
		at(t, besidePath(p.Card, "", lockEnding), now.Add(-24*time.Hour)),
		at(t, besidePath(filepath.Join(p.Syncs, "a.sync"), "", tempEnding), now.Add(sweepAge+ms)),
		at(t, besidePath(g.Paths().Last, "-1", tempEnding), now.Add(-sweepAge-ms)),
	}
	old := now.Add(-24 * time.Hour)
	stay := []string{
		at(t, besidePath(p.Card, "-1", tempEnding), now.Add(-sweepAge)),
		at(t, besidePath(p.Card, "-2", tempEnding), now.Add(sweepAge)),
		at(t, besidePath(p.Card, "-3", tempEnding), now),
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
	_, err := loadSealed(path, syncFormat, &f)
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
