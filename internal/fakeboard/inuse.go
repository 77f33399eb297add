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

// InUse waits until goroutines that are about to end have ended, and counts.
// Where the system does not tell, descriptors count 0.
func InUse(t testing.TB) Usage {
	t.Helper()
	time.Sleep(100 * time.Millisecond)
	return usage()
}

func usage() Usage {
	entries, _ := os.ReadDir("/proc/self/fd")
	return Usage{len(entries), runtime.NumGoroutine()}
}

// MustHold waits until no more is in use, and fails the test if that does not come.
func (u Usage) MustHold(t testing.TB) {
	t.Helper()
	var now Usage
	for begun := time.Now(); time.Since(begun) < effort.Hang; time.Sleep(10 * time.Millisecond) {
		if now = usage(); now.Descriptors <= u.Descriptors && now.Goroutines <= u.Goroutines {
			return
		}
	}
	t.Errorf("in use: %+v, were %+v", now, u)
}
