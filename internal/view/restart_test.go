package view

import (
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/frame"
	"evendraw/internal/session"
)

// Row 7 of the fault table: a restart is told at the next look, with what becomes
// of the zero, and once.
func TestRestartIsTold(t *testing.T) {
	t.Parallel()
	now := time.Unix(1000, 0)
	snap := func(serial string, restarts uint64, zeroed bool) *session.Snapshot {
		s := &session.Snapshot{Phase: session.Running, LastFrame: now, Board: &frame.Announcement{Serial: serial}}
		s.Link.Restarts, s.Zero.Zeroed = restarts, zeroed
		return s
	}
	for _, c := range []struct {
		next *session.Snapshot
		want string
	}{
		{snap("A", 1, true), "Board restarted: its zero still holds."},
		{snap("A", 1, false), "Board restarted: it has no zero."},
		{snap("B", 1, false), "Another board answers"},
		{snap("A", 0, true), ""},
	} {
		v := View{Now: now, Snap: snap("A", 0, true)}
		v = Update(v, Tick{Now: now, Snap: c.next})
		if !strings.HasPrefix(v.Note, c.want) || c.want == "" && v.Note != "" {
			t.Errorf("%+v: %q, want %q", c.next.Link, v.Note, c.want)
		}
		v.Note = ""
		if v = Update(v, Tick{Now: now, Snap: c.next}); v.Note != "" {
			t.Errorf("told again: %q", v.Note)
		}
	}
	if v := Update(View{}, Tick{Now: now, Snap: snap("A", 3, true)}); v.Note != "" {
		t.Errorf("told at the start: %q", v.Note)
	}
}

// An answer to an Enter that did nothing goes once Enter is asked for: both would stand side by side.
func TestNoEnterGoesOnceEnterIsAsked(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Flow.At, v.Note, v.NoteUntil = StepBlip, noEnter, v.Now.Add(time.Minute)
	if foot := v.foot(); foot[0].Text != noEnter {
		t.Fatalf("not told at first: %v", foot)
	}
	v.Snap = running(reading(advice.Done, advice.WhyLevel)).Snap
	if foot := v.foot(); foot[0].Text == noEnter {
		t.Errorf("told though Enter ends the step: %v", foot)
	}
}

// Row 17: where the computer is too busy to look often, it says so; one late look is nothing.
func TestBusyComputer(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	look := func(every time.Duration, n int) string {
		for range n {
			at := v.Now.Add(every)
			snap := *v.Snap
			snap.LastFrame = at
			v = Update(v, Tick{Now: at, Snap: &snap})
		}
		return v.link().Text
	}
	for _, c := range []struct {
		every time.Duration
		looks int
		want  string
	}{
		{50 * time.Millisecond, 100, "link good"},
		{900 * time.Millisecond, 1, "link good"},
		{50 * time.Millisecond, 100, "link good"},
		{200 * time.Millisecond, 20, "computer too busy"},
		{50 * time.Millisecond, 60, "link good"},
	} {
		if got := look(c.every, c.looks); got != c.want {
			t.Errorf("%d looks, one in %v: %q, want %q", c.looks, c.every, got, c.want)
		}
	}
}
