package board

import (
	"os"
	"runtime"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// usage is what a process has in use.
type usage struct{ Descriptors, Goroutines int }

// sameCounts is how many counts in a row must be the same, countEvery apart. Chosen: what is about
// to end has ended by then. A count that is taken too early is too high, and only lets more pass.
const (
	sameCounts = 20
	countEvery = time.Millisecond
)

// inUse waits until goroutines that are about to end have ended, and counts.
func inUse(t testing.TB) usage {
	t.Helper()
	now := countUsage()
	for begun, same := time.Now(), 0; same < sameCounts; time.Sleep(countEvery) {
		if time.Since(begun) > effort.Hang {
			t.Fatalf("in use: still changing, now %+v", now)
		}
		if next := countUsage(); next != now {
			now, same = next, 0
		} else {
			same++
		}
	}
	return now
}

func countUsage() usage {
	entries, _ := os.ReadDir("/proc/self/fd")
	return usage{len(entries), runtime.NumGoroutine()}
}

// mustHold waits until no more is in use than u, and fails the test if that never comes.
func (u usage) mustHold(t testing.TB) {
	t.Helper()
	var now usage
	for begun := time.Now(); time.Since(begun) < effort.Hang; time.Sleep(countEvery) {
		if now = countUsage(); now.Descriptors <= u.Descriptors && now.Goroutines <= u.Goroutines {
			return
		}
	}
	t.Errorf("in use: %+v, were %+v", now, u)
}
