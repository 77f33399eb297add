package frame

import (
	"math"
	"slices"
)

// sequence puts frames in the order of their counters, drops duplicates, counts
// gaps, and keeps out frames that do not fit their neighbours.
type sequence struct {
	started    bool  // last is set
	last       mark  // of the last frame given to ready
	held       Frame // came after a gap: the missing one may still arrive
	holding    bool
	suspect    Frame // did not fit; if the next fits it, the board has restarted
	hasSuspect bool
	// unannounced is set when the frames have shown a restart, and no announcement has
	// come since.
	unannounced bool
	standing    standing
	segment     int
	ready       []Frame // in order, to be taken
	taken       int     // of ready
}

// mark is the part of a frame that its neighbours are compared with.
type mark struct {
	counter, tick uint32
	overflow      uint16
}

func (f *Frame) mark() mark { return mark{f.Counter, f.Tick, f.Overflow} }

// tickSlack is the share by which the tick may be off the announced rate: the 2 % that
// PROTOCOL.md allows.
const tickSlack = 0.02

// maxReorder is how far back a counter may lie for a frame that came late or twice; further
// back it is a restart. Chosen: far above what any bridge reorders, far below the 1000
// frames of a restart's first second.
const maxReorder = 16

// clear drops what was taken.
func (s *sequence) clear() { s.ready, s.taken = s.ready[:copy(s.ready, s.ready[s.taken:])], 0 }

// place returns where the next frame is to be read: where it stays if it is the next in order.
func (s *sequence) place() *Frame {
	n := len(s.ready)
	s.ready = slices.Grow(s.ready, 1)
	return &s.ready[:n+1][n]
}

// push takes one intact frame, in its place, and reports whether it fits the others.
func (s *sequence) push(f *Frame, period float64, stats *Stats) bool {
	if !s.started || !s.holding && f.Counter == s.last.counter+1 && fits(s.last, f.mark(), period) {
		s.hasSuspect = false
		s.emit(f)
		return true
	}
	other := *f // others may be given out before it
	return s.order(&other, period, stats)
}

// order is push of a frame that isn't the next one.
func (s *sequence) order(f *Frame, period float64, stats *Stats) bool {
	s.standing.refuse(f.mark()) // which emit takes back
	base, behindHeld := s.last, false
	if s.holding && int32(f.Counter-s.held.Counter) >= 0 {
		base, behindHeld = s.held.mark(), true
	}
	m := f.mark()
	step := int32(m.counter - base.counter)
	switch {
	case step > 0 && fits(base, m, period) && reach(base, m, period) <= longGap:
		s.hasSuspect = false
		s.accept(f, behindHeld)
		return true
	case -maxReorder < step && step <= 0 && fits(m, base, period):
		stats.Duplicates++
		return true
	}
	return s.keepSuspect(f, period, stats)
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
	s.emit(f)
	if s.holding && s.held.Counter == f.Counter+1 {
		s.release()
	}
}

// keepSuspect keeps a frame that does not fit, or only after a long gap. A second one that fits the
// first shows that there was such a gap, or that the board has restarted and its announcement was lost.
func (s *sequence) keepSuspect(f *Frame, period float64, stats *Stats) bool {
	m := s.suspect.mark()
	if s.hasSuspect && f.Counter == m.counter+1 && fits(m, f.mark(), period) {
		stats.Damaged-- // the suspect was counted as damaged
		s.release()
		s.hasSuspect = false
		if !fits(s.last, m, period) || reach(s.last, m, period) > longestGap {
			s.restart(stats)
			s.unannounced = true
		}
		s.emit(&s.suspect)
		s.emit(f)
		return true
	}
	s.suspect, s.hasSuspect = *f, true
	return false
}

// restart begins a new segment, and gives out a held frame: what it waited for can't come
// any more.
func (s *sequence) restart(stats *Stats) {
	s.release()
	if s.started {
		stats.Restarts++
		s.segment++
	}
	s.started, s.hasSuspect, s.unannounced = false, false, false
}

// release gives out the held frame.
func (s *sequence) release() {
	if s.holding {
		s.holding = false
		s.emit(&s.held)
	}
}

// emit takes f as the next frame in order, with what is lost and missed before it.
func (s *sequence) emit(f *Frame) {
	r := s.place()
	if r != f {
		*r = *f
	}
	s.ready = s.ready[:len(s.ready)+1]
	r.Lost, r.Missed, r.Segment = 0, 0, s.segment
	s.standing = standing{}
	m := f.mark()
	if s.started {
		r.Lost = m.counter - s.last.counter - 1
		r.Missed = m.overflow - s.last.overflow
	}
	s.last, s.started = m, true
}

// tickWrap is the tick at which it begins at 0 again, µs.
const tickWrap = 1 << 32

// longGap is the gap, in µs, from which on a second frame must bear out the first. Derived: the tick of
// a frame with any other counter fits it by chance once in 10,000, as tickSlack is then 0.4 s of its 4295 s.
const longGap = 10e6

// longestGap is the longest gap, in µs, that is told from a restart: 12 hours. Derived: within
// tickSlack of it lie 40 % of all ticks, so that more would tell nothing.
const longestGap = 12 * 3600e6

// reach is how far b lies after a by its counter, µs.
func reach(a, b mark, period float64) float64 { return period * float64(b.counter-a.counter) }

// fits reports whether b can be a later frame of the same run as a: the tick
// has moved by the frames and missed instants between them, within half a
// period (in µs) plus tickSlack.
func fits(a, b mark, period float64) bool {
	want := period * (float64(b.counter-a.counter) + float64(b.overflow-a.overflow))
	off := want - float64(b.tick-a.tick)
	if off > tickWrap/2 || off < -tickWrap/2 {
		off -= tickWrap * math.Round(off/tickWrap) // after a long gap the tick has wrapped
	}
	tolerance := period/2 + tickSlack*want
	return off <= tolerance && off >= -tolerance
}
