package effort

import (
	"testing"
	"testing/synctest"
	"time"
)

func TestOf(t *testing.T) {
	for asked, want := range map[string]int{"": 1, "0": 1, "1": 2} {
		t.Run("asked="+asked, func(t *testing.T) {
			t.Setenv("EVENDRAW_TEST_ALL", asked)
			if got := Of(1, 2); got != want {
				t.Errorf("%d, want %d", got, want)
			}
		})
	}
}

// A try that holds ends the measuring; before that come three at most.
func TestQuietTriesThreeTimesAtMost(t *testing.T) {
	t.Setenv("EVENDRAW_TEST_QUIET", "1")
	n := 0
	Quiet(t, func(*testing.T) []Figure {
		n++
		return []Figure{Millis("one", time.Millisecond, time.Second),
			Millis("other", time.Duration(tries-n)*time.Second, 0)}
	})
	if n != tries {
		t.Errorf("%d tries", n)
	}
}

func TestQuietIsSkipped(t *testing.T) {
	t.Setenv("EVENDRAW_TEST_QUIET", "")
	t.Run("skipped", func(t *testing.T) {
		Quiet(t, func(*testing.T) []Figure { panic("measured") })
	})
}

// A sleeper in virtual time is never late.
func TestLateness(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		if late := Lateness(func() { time.Sleep(time.Second) }); late != 0 {
			t.Errorf("%v", late)
		}
	})
}
