package rates

import (
	"testing"
	"time"

	"evendraw/internal/session"
)

// Frames are counted by the board's clock; what is lost shows in its second alone, and a new stream begins anew.
func TestFrames(t *testing.T) {
	t.Parallel()
	var r Frames
	if r.Push(nil); r != (Frames{}) {
		t.Errorf("without a snapshot: %+v", r)
	}
	for _, c := range []struct {
		time         float64
		frames, lost uint64
		perSecond    float64
		trouble      bool
		seconds      int
	}{{0, 0, 0, 0, false, 0}, {0.5, 100, 0, 0, false, 0}, {1, 200, 0, 200, false, 1}, {1.9, 300, 3, 200, false, 1},
		{2, 350, 3, 150, true, 2}, {3, 550, 3, 200, false, 3}, {5, 1150, 3, 300, false, 4}, {0.2, 40, 0, 0, false, 0},
		{1.2, 240, 0, 200, false, 1}} {
		var s session.Snapshot
		s.Link.LastTime, s.Link.Frames, s.Link.Lost = c.time, c.frames, c.lost
		if r.Push(&s); r.PerSecond != c.perSecond || r.Trouble != c.trouble || r.Seconds != c.seconds {
			t.Errorf("at %v s: %+v, want %+v", c.time, r, c)
		}
	}
}

// Words come late where whole seconds in a row have too few looks; a computer that slept is not slow.
func TestLooks(t *testing.T) {
	t.Parallel()
	var l Looks
	now := time.Unix(1000, 0)
	look := func(every time.Duration, n int) {
		for range n {
			now = now.Add(every)
			l.Push(now)
		}
	}
	for _, c := range []struct {
		every time.Duration
		n     int
		slow  bool
	}{{50 * time.Millisecond, 60, false}, {200 * time.Millisecond, 6, false}, {200 * time.Millisecond, 10, true},
		{50 * time.Millisecond, 45, false}, {200 * time.Millisecond, 16, true}, {time.Hour, 1, false}} {
		if look(c.every, c.n); l.Slow() != c.slow {
			t.Errorf("%d looks, one every %v: slow %v", c.n, c.every, l.Slow())
		}
	}
}
