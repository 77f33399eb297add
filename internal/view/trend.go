package view

import (
	"math"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/session"
)

// What a lane's trace remembers: trendSeconds, a point every trendStep.
const (
	trendSeconds = 30
	trendStep    = 0.5
	trendPoints  = int(trendSeconds / trendStep)
	mostLanes    = 8
)

// trend is what the differences were in the last half minute, the newest last, in kPa; NaN where they were unknown.
type trend struct {
	time      float64 // of the newest point, s of the stream
	reference int
	begun     bool
	kpa       [mostLanes][trendPoints]float32
}

// push takes a reading when the next point is due.
func (t *trend) push(r *balance.Reading) {
	if !t.begun || r.Reference != t.reference || r.Time < t.time || r.Time > t.time+trendSeconds {
		t.begun, t.reference, t.time = true, r.Reference, r.Time-trendStep
		for c := range t.kpa {
			for i := range t.kpa[c] {
				t.kpa[c][i] = float32(math.NaN())
			}
		}
	}
	for ; t.time+trendStep <= r.Time; t.time += trendStep {
		for c := range t.kpa {
			k := &t.kpa[c]
			copy(k[:], k[1:])
			k[trendPoints-1] = float32(math.NaN())
			if c < len(r.Cylinders) && r.Span.Cycle {
				k[trendPoints-1] = float32(r.Cylinders[c].Difference)
			}
		}
	}
}

// rate counts the frames that come a second, by the board's clock.
type rate struct {
	time, frames float64 // where the second under way began
	perSecond    float64 // of the last whole one, 0 before
	troubles     uint64  // lost, damaged and missed at its begin
	trouble      bool    // some in the last whole one
	seconds      int     // whole seconds in a row at this rate
}

func (r *rate) push(s *session.Snapshot) {
	if s == nil {
		return
	}
	l := &s.Link
	troubles := l.Lost + l.Damaged + l.Overflows
	switch d := l.LastTime - r.time; {
	case d < 0 || l.Frames == 0:
		*r = rate{time: l.LastTime, frames: float64(l.Frames), troubles: troubles}
	case d >= 1:
		r.perSecond = (float64(l.Frames) - r.frames) / d
		r.trouble = troubles != r.troubles
		r.seconds++
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

// looks counts how often a second the view is brought up to date.
type looks struct {
	since   time.Time // where the second under way began
	n       int       // looks in it
	slowFor int       // whole seconds in a row that had too few
}

func (l *looks) push(now time.Time) {
	l.n++
	switch d := now.Sub(l.since); {
	case d < 0 || d > 2*time.Second: // begins, or the computer slept
		*l = looks{since: now}
	case d >= time.Second:
		if l.slowFor++; l.n >= fewLooks {
			l.slowFor = 0
		}
		l.since, l.n = now, 0
	}
}

// slow reports whether words come late as this computer is too busy.
func (l *looks) slow() bool { return l.slowFor >= busySeconds }
