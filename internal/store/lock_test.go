package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"
)

// lockPoll is the longest that whoever waits for a lock sleeps between two looks at it.
const lockPoll = 3 * time.Millisecond

// lockedFile is a file's lock, and an edit that needs the lock. The time within a bubble begins in
// the year 2000, so that a lock there must be given its time.
func lockedFile(t *testing.T) (lock string, save func() error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file")
	must(t, os.WriteFile(path, []byte("x"), 0o666))
	return besidePath(path, "", lockEnding), func() error {
		return New().Edit(path, func(old []byte) ([]byte, error) { return append(old, 'x'), nil })
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
				lock, save := lockedFile(t)
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
				lock, save := lockedFile(t)
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
