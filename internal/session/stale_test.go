package session_test

import (
	"context"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/session"
)

// Rows 11 and 16: figures are stale by the age of the last frame, which is told by
// a clock that nobody can set; of a stale reading nothing is left that could pass
// for live.
func TestStale(t *testing.T) {
	t.Parallel()
	rec, _ := idling(3)
	b := bank.Default(4)
	s := session.New(session.Config{Bank: &b, Ambient: 101.3, Zeroed: true}, session.Options{})
	if snap := s.Snapshot(); snap.Stale(time.Now().Add(time.Hour)) {
		t.Error("stale before the first frame")
	}
	r, w := io.Pipe()
	ended := make(chan error, 1)
	go func() { ended <- s.Run(context.Background(), r) }()
	w.Write(rec.Bytes())
	w.Write([]byte{0}) // read, so that all before it has been
	snap := s.Snapshot()
	last := snap.LastFrame
	for name, at := range map[string]time.Time{"last frame": last, "phase": snap.Since} {
		if !strings.Contains(at.String(), " m=") {
			t.Errorf("the time of the %s moves when the wall clock is set", name)
		}
	}
	for k := range 10 {
		age := time.Duration(k) * 60 * time.Millisecond
		if want := age > session.StaleAfter; snap.Stale(last.Add(age)) != want {
			t.Errorf("%v after the last frame: stale %v", age, !want)
		}
	}
	if session.StaleAfter > 300*time.Millisecond {
		t.Errorf("%v is too late", session.StaleAfter)
	}
	out := session.Outdated(snap.Reading)
	if out.Time != snap.Reading.Time || !math.IsNaN(out.RPM) || !math.IsNaN(float64(out.Spread)) || out.Steady ||
		out.Heat != snap.Reading.Heat || out.Advice.Why != advice.WhyNoFrames {
		t.Errorf("%+v", out)
	}
	for _, c := range out.Cylinders {
		if c.State != cycle.Stale || !math.IsNaN(float64(c.Draw)) || !math.IsNaN(float64(c.Difference)) ||
			!math.IsNaN(c.Opening) {
			t.Errorf("%+v", c)
		}
	}
	w.Close()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if s.Snapshot().Stale(time.Now().Add(time.Hour)) {
		t.Error("what has ended is not stale")
	}
}
