package balance

import (
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
)

// Constants of what must be so before any advice.
const (
	// faultCycles is how many spans in a row a channel must be at fault.
	faultCycles = 4
	// mostUnknown is how many cycles in a row may be without an opening that is levelled
	// by. Chosen: a spike or a misfire spoils one.
	mostUnknown = 3
	// doubtsWait is how many cycles the doubts are waited for. Chosen: twice as long as
	// the order of the hoses.
	doubtsWait = 2 * hoseCycles
	// usualIdleLow and usualIdleHigh bound the idle of a bike whose card says
	// nothing of it, rpm. Chosen: wide, to keep off a hand on the throttle; low enough
	// that a speed that is taken for a third of what it is, as can be after a blip,
	// stops nothing, as means over three cycles are means all the same.
	usualIdleLow, usualIdleHigh = 200.0, 2000.0
	// idleRoom is how far outside the card's range a bank is still levelled.
	// Chosen: the idle speed is set after levelling, which moves it.
	idleRoom = 0.3
	// standSeconds without a cycle are a standstill: hoses may be moved then. Chosen.
	standSeconds = 2.0
	// tellSeconds is how long a cylinder's doubt is told before the levelling goes
	// on by itself. Chosen: some glances.
	tellSeconds = 8.0
)

// gate knows what stands in the way of advice.
type gate struct {
	useless   bool // no linkage that can level
	low, high float64
	faulty    [cycle.MaxCylinders]int
	// hosesFine is set when the user has put aside that the hoses look exchanged.
	hosesFine bool
	// watched is how many cycles with all channels sound there were since the engine
	// stood, and still how long there has been no cycle, s.
	watched int
	still   float64
	doubts  doubts
	trend   trend
	warmth  warmth
}

// warming reports whether the engine is still cold.
func (g *gate) warming() bool { return g.warmth.warming || g.trend.warming() }

func newGate(cfg *Config, canLevel bool) gate {
	g := gate{useless: !canLevel, warmth: newWarmth(&cfg.Bank), low: usualIdleLow, high: usualIdleHigh}
	if cfg.IdleHigh > 0 {
		g.low, g.high = cfg.IdleLow*(1-idleRoom), cfg.IdleHigh*(1+idleRoom)
	}
	return g
}

// unreadable returns the advice while there is nothing steady to read.
func (g *gate) unreadable(r *Reading, w *window, h *heat) (adv advice.Advice, stop bool) {
	if w.n < 2 {
		return waitFor(advice.WhyOneCylinder), true
	}
	if c := g.fault(r); c > 0 {
		return faultOf(c, advice.WhyChannel), true
	}
	switch {
	case !r.Span.Cycle && h.hot:
		return waitFor(advice.WhyHot), true
	case !r.Span.Cycle:
		return waitFor(advice.WhyNoCycle), true
	case !r.Steady:
		return waitFor(advice.WhyNotSteady), true
	case w.rpm < g.low || w.rpm > g.high:
		return waitFor(advice.WhyOffIdle), true
	case g.useless:
		return waitFor(advice.WhyNoScrew), true
	case r.Cycles < 2:
		return waitFor(advice.WhyFewCycles), true
	case w.unknown > mostUnknown:
		return waitFor(advice.WhyNoOpening), true
	}
	return adv, false
}

// unready returns the advice that comes before a screw is named.
func (g *gate) unready(r *Reading, w *window, h *heat) (adv advice.Advice, stop bool) {
	switch {
	case r.Hoses.Verdict == cycle.Exchanged && !g.hosesFine:
		cylinder := 0
		if len(r.Hoses.Exchanged) > 0 {
			cylinder = r.Hoses.Exchanged[0][0]
		}
		return faultOf(cylinder, advice.WhyHoses), true
	case g.watched < hoseCycles && !g.hosesFine, g.watched < doubtsWait && !g.doubts.looked: // hoses and doubts come first
		return waitFor(advice.WhyFewCycles), true
	case h.hot:
		return waitFor(advice.WhyHot), true
	case g.warming():
		return waitFor(advice.WhyCold), true
	}
	return g.doubts.tell(r, w)
}

// watch counts cycles in which all channels are sound. A blip may cost some, and is no
// standstill.
func (g *gate) watch(s *cycle.Span) {
	if s.Cycle {
		if !slices.ContainsFunc(s.State[:s.N], func(s cycle.State) bool { return !Sound(s) }) {
			g.watched++
		}
		g.still = 0
		return
	}
	if g.still += s.Period; g.still > standSeconds {
		g.watched = 0
		g.warmth.restart()
		g.doubts = doubts{} // what was wrong may be mended
	}
}

// goOn puts aside the fault that is being told.
func (g *gate) goOn() {
	g.hosesFine = true
	g.doubts.told = g.doubts.found
}

// fault returns the first cylinder whose channel has been useless for a while
// in a turning engine, 0 if none.
func (g *gate) fault(r *Reading) int {
	found := 0
	for i := range r.Cylinders {
		s := r.Cylinders[i].State
		bad := s == cycle.RailLow || s == cycle.RailHigh
		if r.Span.Cycle {
			bad = !Sound(s)
		}
		if !bad {
			g.faulty[i] = 0
			continue
		}
		if g.faulty[i]++; g.faulty[i] >= faultCycles && found == 0 {
			found = i + 1
		}
	}
	return found
}
