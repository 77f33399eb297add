package fakeboard

import (
	"os"
	"runtime"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// Usage is what a process has in use.
type Usage struct{ Descriptors, Goroutines int }

// sameCounts is how many counts in a row must be the same, countEvery apart. Chosen: what is about
// to end has ended by then. A count that is taken too early is too high, and only lets more pass.
const (
	sameCounts = 20
	countEvery = time.Millisecond
)

// InUse waits until goroutines that are about to end have ended, and counts. Where the
// system does not show descriptors, they count 0.
func InUse(t testing.TB) Usage {
	t.Helper()
	now := usage()
	for begun, same := time.Now(), 0; same < sameCounts; time.Sleep(countEvery) {
		if time.Since(begun) > effort.Hang {
			t.Fatalf("in use: still changing, now %+v", now)
		}
		if next := usage(); next != now {
			now, same = next, 0
		} else {
			same++
		}
	}
	return now
}

func usage() Usage {
	entries, _ := os.ReadDir("/proc/self/fd")
	return Usage{len(entries), runtime.NumGoroutine()}
}

// MustHold waits until no more is in use than u, and fails the test if that never comes.
func (u Usage) MustHold(t testing.TB) {
	t.Helper()
	var now Usage
	for begun := time.Now(); time.Since(begun) < effort.Hang; time.Sleep(countEvery) {
		if now = usage(); now.Descriptors <= u.Descriptors && now.Goroutines <= u.Goroutines {
			return
		}
	}
	t.Errorf("in use: %+v, were %+v", now, u)
}
