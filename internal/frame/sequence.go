package frame

import "math"

// sequence puts frames in the order of their counters, drops doubles, counts
// gaps, and keeps out frames that do not fit their neighbours.
type sequence struct {
	started bool  // last is set
	last    Frame // last frame given to ready
	held    Frame // came after a gap: the missing one may still arrive
	holding bool
	suspect Frame // did not fit; if the next fits it, the board has restarted
	doubted bool
	segment int
	ready   [3]Frame
	nReady  int
}

// tickSlack is the part of an interval that the tick may stray from the
// announced rate: the 2 % that PROTOCOL.md allows.
const tickSlack = 0.02

// late is how many places back a counter is still taken for a frame that came
// late or twice, and not for a restart. Chosen: far above what any bridge
// reorders, far below the 1000 frames of a restart's first second.
const late = 16

// take returns the next frame in order.
func (s *sequence) take() (Frame, bool) {
	if s.nReady == 0 {
		return Frame{}, false
	}
	f := s.ready[0]
	s.ready[0], s.ready[1] = s.ready[1], s.ready[2]
	s.nReady--
	return f, true
}

// push takes one intact frame and reports whether it is believed. The caller
// must have emptied ready with take.
func (s *sequence) push(f *Frame, period float64, stats *Stats) bool {
	if !s.started {
		s.give(f)
		return true
	}
	base := &s.last
	if s.holding && int32(f.Counter-s.held.Counter) >= 0 {
		base = &s.held
	}
	step := int32(f.Counter - base.Counter)
	switch {
	case step > 0 && fits(base, f, period):
		s.doubted = false
		s.accept(f, base)
		return true
	case -late < step && step <= 0 && fits(f, base, period):
		stats.Duplicates++
		return true
	}
	return s.doubt(f, period, stats)
}

// accept orders a frame that fits behind base.
func (s *sequence) accept(f, base *Frame) {
	if base == &s.held {
		s.release()
	}
	if f.Counter != s.last.Counter+1 {
		s.held, s.holding = *f, true
		return
	}
	s.give(f)
	if s.holding && s.held.Counter == f.Counter+1 {
		s.release()
	}
}

// doubt keeps a frame that does not fit. A second one that fits the first
// shows that the board has restarted and its announcement was lost.
func (s *sequence) doubt(f *Frame, period float64, stats *Stats) bool {
	if s.doubted && f.Counter == s.suspect.Counter+1 && fits(&s.suspect, f, period) {
		first := s.suspect
		stats.Damaged-- // it was counted when it did not fit
		s.restart(stats)
		s.give(&first)
		s.give(f)
		return true
	}
	s.suspect, s.doubted = *f, true
	return false
}

// restart begins a new segment. What a held frame waited for can't come any more.
func (s *sequence) restart(stats *Stats) {
	s.release()
	if s.started {
		stats.Restarts++
		s.segment++
	}
	s.started, s.doubted = false, false
}

// release gives out the held frame.
func (s *sequence) release() {
	if s.holding {
		s.holding = false
		held := s.held
		s.give(&held)
	}
}

// give takes f as the next frame in order. It writes what f has lost and missed
// into it.
func (s *sequence) give(f *Frame) {
	if s.started {
		f.Lost = f.Counter - s.last.Counter - 1
		f.Missed = f.Overflow - s.last.Overflow
	}
	f.Segment = s.segment
	s.last, s.started = *f, true
	s.ready[s.nReady] = *f
	s.nReady++
}

// wrap is one turn of the tick.
const wrap = 1 << 32

// fits reports whether b can be a later frame of the same run as a: the tick
// has moved by the frames and missed instants between them, within half a
// period (in µs) plus tickSlack.
func fits(a, b *Frame, period float64) bool {
	want := period * (float64(b.Counter-a.Counter) + float64(b.Overflow-a.Overflow))
	off := want - float64(b.Tick-a.Tick)
	if off > wrap/2 || off < -wrap/2 {
		off -= wrap * math.Round(off/wrap) // long gaps: whole turns of the tick
	}
	tolerance := period/2 + tickSlack*want
	return off <= tolerance && off >= -tolerance
}
