package frame

import "math"

// sequence puts frames in the order of their counters, drops doubles, counts
// gaps, and keeps out frames that do not fit their neighbours.
type sequence struct {
	started bool  // last is set
	last    mark  // of the last frame given to ready
	held    Frame // came after a gap: the missing one may still arrive
	holding bool
	suspect Frame // did not fit; if the next fits it, the board has restarted
	doubted bool
	// unsaid is set when the frames alone told of a restart, and no announcement
	// has yet.
	unsaid  bool
	segment int
	ready   [3]Frame
	taken   int // of ready
	nReady  int
}

// mark is what of a frame its neighbours are held against.
type mark struct {
	counter, tick uint32
	overflow      uint16
}

func (f *Frame) mark() mark { return mark{f.Counter, f.Tick, f.Overflow} }

// tickSlack is the part of an interval that the tick may stray from the
// announced rate: the 2 % that PROTOCOL.md allows.
const tickSlack = 0.02

// late is how many places back a counter is still taken for a frame that came
// late or twice, and not for a restart. Chosen: far above what any bridge
// reorders, far below the 1000 frames of a restart's first second.
const late = 16

// take returns the next frame in order, nil if there is none. It is valid until the
// next push.
func (s *sequence) take() *Frame {
	if s.taken == s.nReady {
		s.taken, s.nReady = 0, 0
		return nil
	}
	s.taken++
	return &s.ready[s.taken-1]
}

// push takes one intact frame and reports whether it is believed. The caller
// must have emptied ready with take.
func (s *sequence) push(f *Frame, period float64, stats *Stats) bool {
	if !s.started {
		s.give(f)
		return true
	}
	base, behindHeld := s.last, false
	if s.holding && int32(f.Counter-s.held.Counter) >= 0 {
		base, behindHeld = s.held.mark(), true
	}
	m := f.mark()
	step := int32(m.counter - base.counter)
	switch {
	case step > 0 && fits(base, m, period):
		s.doubted = false
		s.accept(f, behindHeld)
		return true
	case -late < step && step <= 0 && fits(m, base, period):
		stats.Duplicates++
		return true
	}
	return s.doubt(f, period, stats)
}

// accept orders a frame that fits behind the held or the last one.
func (s *sequence) accept(f *Frame, behindHeld bool) {
	if behindHeld {
		s.release()
	}
	if f.Counter != s.last.counter+1 {
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
	if s.doubted && f.Counter == s.suspect.Counter+1 && fits(s.suspect.mark(), f.mark(), period) {
		stats.Damaged-- // it was counted when it did not fit
		s.restart(stats)
		s.unsaid = true
		s.give(&s.suspect)
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
	s.started, s.doubted, s.unsaid = false, false, false
}

// release gives out the held frame.
func (s *sequence) release() {
	if s.holding {
		s.holding = false
		s.give(&s.held)
	}
}

// give takes f as the next frame in order, with what is lost and missed before it.
func (s *sequence) give(f *Frame) {
	r := &s.ready[s.nReady]
	s.nReady++
	*r = *f
	r.Lost, r.Missed, r.Segment = 0, 0, s.segment
	m := f.mark()
	if s.started {
		r.Lost = m.counter - s.last.counter - 1
		r.Missed = m.overflow - s.last.overflow
	}
	s.last, s.started = m, true
}

// wrap is one turn of the tick.
const wrap = 1 << 32

// fits reports whether b can be a later frame of the same run as a: the tick
// has moved by the frames and missed instants between them, within half a
// period (in µs) plus tickSlack.
func fits(a, b mark, period float64) bool {
	want := period * (float64(b.counter-a.counter) + float64(b.overflow-a.overflow))
	off := want - float64(b.tick-a.tick)
	if off > wrap/2 || off < -wrap/2 {
		off -= wrap * math.Round(off/wrap) // long gaps: whole turns of the tick
	}
	tolerance := period/2 + tickSlack*want
	return off <= tolerance && off >= -tolerance
}
