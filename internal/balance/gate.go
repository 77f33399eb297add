package balance

import (
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/faults"
	"evendraw/internal/hoses"
	"evendraw/internal/warmup"
)

// Constants of what must be so before any advice.
const (
	// faultCycles is how many spans in a row, and faultSeconds how long, a channel must be at fault. Derived: a state
	// is held for 0.6 s, so that the engine's first cycles still have that of before.
	faultCycles, faultSeconds = 4, 0.8
	// mostUnknown is how many cycles in a row may lack an opening where the bank is
	// levelled by openings. Chosen: a spike or a misfire spoils one.
	mostUnknown = 3
	// usualIdleLow and usualIdleHigh bound the idle of a bike whose card says nothing of it, rpm. Chosen: high enough
	// for any idle, low enough to notice a hand on the throttle; and above what a starter turns.
	usualIdleLow, usualIdleHigh = 400.0, 2000.0
	// IdleRoom is how far outside the card's range a bank is still levelled.
	// Chosen: the idle speed is set after levelling, which moves it.
	IdleRoom = 0.3
	// standSeconds without a cycle are a standstill: hoses may be moved then. Chosen.
	standSeconds = 2.0
)

// gate knows what stands in the way of advice.
type gate struct {
	cannotLevel bool                    // the linkage is unknown or singular
	low, high   float64                 // bounds of the idle speed, rpm
	faultRun    [cycle.MaxCylinders]int // spans in a row at fault
	faultFrom   perCylinder             // since when
	// hosesFine is set when the user has put aside that the hoses look exchanged, or on one port.
	hosesFine bool
	// soundCycles is how many cycles with all channels sound there were since the engine
	// last stood; standing is how long there has been no cycle, s.
	soundCycles int
	standing    float64
	faults      faults.Cylinders
	warmth      warmup.Watch
	hot         bool // the engine is to stand and cool
	paused      bool // see Balance.Pause
	keys        bool // see Config.Keys
}

func newGate(cfg *Config, canLevel bool) gate {
	g := gate{cannotLevel: !canLevel, low: usualIdleLow, high: usualIdleHigh,
		keys: cfg.Keys}
	if cfg.IdleHigh > 0 {
		g.low, g.high = cfg.IdleLow*(1-IdleRoom), cfg.IdleHigh*(1+IdleRoom)
	}
	return g
}

// offIdle reports whether the engine turns much slower or faster than it idles.
func (g *gate) offIdle(rpm float64) bool { return rpm < g.low || rpm > g.high }

// unreadable returns the advice while there is nothing steady to read.
func (g *gate) unreadable(r *Reading, w *window) (adv advice.Advice, stop bool) {
	switch {
	case g.hot:
		return waitFor(advice.WhyHot), true
	case w.n < 2:
		return waitFor(advice.WhyOneCylinder), true
	case g.paused:
		return waitFor(advice.WhyFewCycles), true
	}
	if c := g.faultyChannel(r); c > 0 {
		return faults.Of(c, advice.WhyChannel), true
	}
	if adv, stop = g.faults.Silence(); stop {
		return adv, true
	}
	still := r.Span.Cycle && r.Steady && r.Cycles > 1
	if c := g.faults.Staying(); c > 0 && !still {
		return faults.Of(c, g.faults.Found[c-1]), true
	}
	switch {
	case !r.Span.Cycle:
		return waitFor(advice.WhyNoCycle), true
	case g.faults.Waits(): // no word to raise the idle
		return waitFor(advice.WhyFewCycles), true
	case !r.Steady:
		return waitFor(advice.WhyNotSteady), true
	case r.OffIdle:
		return waitFor(advice.WhyOffIdle), true
	case g.cannotLevel:
		return waitFor(advice.WhyNoScrew), true
	case r.Cycles < 2:
		return waitFor(advice.WhyFewCycles), true
	case w.unknownOpenings > mostUnknown:
		return waitFor(advice.WhyNoOpening), true
	}
	return adv, false
}

// unready returns the advice that comes before a screw is named; said is set once the word that stands was said.
func (g *gate) unready(r *Reading, w *window, said bool) (adv advice.Advice, stop bool) {
	switch {
	case len(r.Hoses.OnePort) > 0 && !g.hosesFine:
		return faults.Of(r.Hoses.OnePort[0][0], advice.WhyOnePort), true
	case r.Hoses.Verdict == hoses.Exchanged && !g.hosesFine:
		cylinder := 0
		if len(r.Hoses.Exchanged) > 0 {
			cylinder = r.Hoses.Exchanged[0][0]
		}
		return faults.Of(cylinder, advice.WhyHoses), true
	case g.soundCycles < hoses.Cycles && !g.hosesFine:
		return waitFor(advice.WhyFewCycles), true
	case g.warmth.Warming():
		return waitFor(advice.WhyCold), true
	}
	return g.faults.Report(len(r.Cylinders), w.now(), g.keys, said)
}

// countSound counts cycles in which all channels are sound, since the engine last stood. A blip
// may cost some cycles, and is no standstill.
func (g *gate) countSound(s *cycle.Span) {
	if s.Cycle {
		if !slices.ContainsFunc(s.State[:s.N], func(s cycle.State) bool { return !Sound(s) }) {
			g.soundCycles++
		}
		g.standing = 0
		return
	}
	if g.standing += s.Period; g.standing > standSeconds {
		g.soundCycles = 0
		g.warmth = warmup.Watch{}
		g.faults.Stood()
	}
}

// goOn puts aside the fault that is being told.
func (g *gate) goOn(order *hoses.Order, told *advice.Advice) {
	if told.Why == advice.WhyChannel {
		g.faults.TakeAsIs(told.Cylinder)
	}
	g.hosesFine = g.hosesFine || order.Verdict == hoses.Exchanged || len(order.OnePort) > 0
	g.faults.PutAside()
}

// faultyChannel returns the first cylinder whose channel has been useless for a while in a turning engine, 0 if none.
func (g *gate) faultyChannel(r *Reading) int {
	found := 0
	for i := range r.Cylinders {
		s := r.Cylinders[i].State
		bad := s == cycle.RailLow || s == cycle.RailHigh
		if r.Span.Cycle {
			bad = !Sound(s)
		}
		if !bad {
			g.faultRun[i] = 0
			continue
		}
		if g.faultRun[i]++; g.faultRun[i] == 1 {
			g.faultFrom[i] = r.Span.Start
		}
		if g.faultRun[i] >= faultCycles && r.Time-g.faultFrom[i] >= faultSeconds && found == 0 {
			found = i + 1
		}
	}
	return found
}
