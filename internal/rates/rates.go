// Package rates counts how many frames a second come from a board, and how often a second the view is brought up to
// date: what is too slow is told.
package rates

import (
	"time"

	"evendraw/internal/session"
)

// Frames counts the frames that come a second, by the board's clock.
type Frames struct {
	time, frames float64 // where the second under way began
	PerSecond    float64 // of the last whole one, 0 before
	troubles     uint64  // lost, damaged and missed at its begin
	Trouble      bool    // some in the last whole one
	Seconds      int     // seconds counted since the board's stream began
}

// Push takes a snapshot; nil is none.
func (r *Frames) Push(s *session.Snapshot) {
	if s == nil {
		return
	}
	l := &s.Link
	troubles := l.Lost + l.Damaged + l.Overflows
	switch d := l.LastTime - r.time; {
	case d < 0 || l.Frames == 0:
		*r = Frames{time: l.LastTime, frames: float64(l.Frames), troubles: troubles}
	case d >= 1:
		r.PerSecond = (float64(l.Frames) - r.frames) / d
		r.Trouble = troubles != r.troubles
		r.Seconds++
		r.time, r.frames, r.troubles = l.LastTime, float64(l.Frames), troubles
	}
}

const (
	// fewLooks is how many looks a second, of the display's twenty, are too few: words come late. Chosen; at five
	// a word comes 0.2 s late.
	fewLooks = 8
	// busySeconds is for how many whole seconds in a row. Chosen: one look is late on any computer.
	busySeconds = 2
)

// Looks counts how often a second the view is brought up to date.
type Looks struct {
	since   time.Time // where the second under way began
	n       int       // looks in it
	slowFor int       // whole seconds in a row that had too few
}

// Push counts a look.
func (l *Looks) Push(now time.Time) {
	l.n++
	switch d := now.Sub(l.since); {
	case d < 0 || d > 2*time.Second: // begins, or the computer slept
		*l = Looks{since: now}
	case d >= time.Second:
		if l.slowFor++; l.n >= fewLooks {
			l.slowFor = 0
		}
		l.since, l.n = now, 0
	}
}

// Slow reports whether words come late as this computer is too busy.
func (l *Looks) Slow() bool { return l.slowFor >= busySeconds }
