package fakeboard

import (
	"os"
	"runtime"
	"testing"
	"time"
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

// MustHold checks that no more is in use, now or within a second.
func (u Usage) MustHold(t testing.TB) {
	t.Helper()
	var now Usage
	for range 100 {
		if now = usage(); now.Descriptors <= u.Descriptors && now.Goroutines <= u.Goroutines {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("in use: %+v, were %+v", now, u)
}
