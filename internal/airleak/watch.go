package airleak

import (
	"math"

	"evendraw/internal/cycle"
)

// Phase is what an Watch is at.
type Phase string

// Phases of an Watch.
const (
	Learning Phase = "learning" // how much air each cylinder gets
	Watching Phase = "watching"
	Less     Phase = "less"    // one cylinder gets less at once
	Moved    Phase = "moved"   // several changed, or one got more: something was turned; then it learns anew
	Unknown  Phase = "unknown" // a cylinder shows no refill
)

// State is what an Watch says.
type State struct {
	Phase Phase
	// Cylinder is the one that gets less air, or shows no refill for the reason Why; 0 is none.
	Cylinder int
	Why      cycle.NoOpening
	// Share is the share of its air that it lacks, and Seconds for how long it has.
	Share, Seconds float64
	// Last is the cylinder that had less air before, the share LastShare less, for LastSeconds until Ago seconds ago;
	// 0 is none.
	Last                        int
	LastShare, LastSeconds, Ago float64
	// Again is set where the cylinder that gets less, or got less last, had less before, and was back to its usual
	// between.
	Again bool
}

// Constants of an Watch.
const (
	// airCycles is how many cycles show how much air a cylinder gets now, and airLearnCycles how many teach what
	// is usual. Chosen: at an idle 0.7 and 4 s.
	airCycles      = 6
	airLearnCycles = 32
	// airShare is the share by which a cycle renews the usual, so that a warming engine is followed. Chosen.
	airShare = 1.0 / 96
	// leastAir is the least share that counts as a change, and airSDs the same in standard deviations of those
	// airCycles. Chosen: in 10 minutes there are 20,000 of them, one in 10^9 is beyond 6. Measured: cycles of a
	// lumpy idle scatter by 0.2 to 0.3 %.
	leastAir = 0.008
	airSDs   = 6.0
	// movedCycles is how long something that was turned takes to settle. Chosen.
	movedCycles = 16
	// longestWet is how long a leak stays shut by water at most, s; after that a lack is usual. Chosen.
	longestWet = 30.0
	// stoodS is how long the engine must have stood, s, for what was heard before to be looked at as mended: it is
	// forgotten. Chosen: longer than one that stumbles shows no cycle.
	stoodS = 5.0
)

// Watch watches for a sudden fall of one cylinder's opening, as of a leak that water shuts.
type Watch struct {
	state  State
	air    [cycle.MaxCylinders]airOf
	cycles int     // since it learns
	since  float64 // when the lack began, s
	ended  float64 // when the last one ended, s
	pause  int     // cycles until it learns anew
	ran    float64 // the end of the last cycle, s
}

// airOf is the air of one cylinder, as the logarithm of cycle.Span.Refill.
type airOf struct {
	last         [airCycles]float64 // a ring
	usual, noise float64            // mean, and variance of cycles
}

// Push takes the next span and returns what is to be said.
func (w *Watch) Push(s *cycle.Span) State {
	st := &w.state
	st.Ago = s.End() - w.ended
	if s.Cycle {
		if s.Start-w.ran > stoodS {
			st.Last, st.Again = 0, false
		}
		w.ran = s.End()
	}
	switch {
	case s.Break || !s.Cycle:
		w.learn(0)
	case !s.Whole():
	case w.pause > 0:
		if w.pause--; w.pause == 0 {
			w.learn(0)
		}
	default:
		w.take(s)
	}
	return *st
}

// learn begins anew, after a pause of so many cycles.
func (w *Watch) learn(pause int) {
	w.cycles, w.pause = 0, pause
	w.state.Phase, w.state.Cylinder, w.state.Why, w.state.Share, w.state.Seconds = Learning, 0, "", 0, 0
	if pause > 0 {
		w.state.Phase = Moved
	}
}

// take takes a whole cycle.
func (w *Watch) take(s *cycle.Span) {
	for c := range s.N {
		if !(s.Refill[c] > 0) {
			if w.learn(0); s.NoOpening[c] != cycle.FewRefills {
				w.state.Phase, w.state.Cylinder, w.state.Why = Unknown, c+1, s.NoOpening[c]
			}
			return
		}
	}
	at := w.cycles % airCycles
	w.cycles++
	for c := range s.N {
		a, v := &w.air[c], math.Log(s.Refill[c])
		a.last[at] = v
		share := max(airShare, 1/float64(w.cycles))
		if w.cycles > airLearnCycles && w.state.Phase == Less {
			continue // what is usual stands still
		}
		if w.cycles == 1 {
			a.usual, a.noise = v, 0
		}
		off := v - a.usual
		if w.cycles > airLearnCycles { // a leak that is shut must not count as scatter before it is heard
			most := max(leastAir, airSDs*math.Sqrt(a.noise))
			off = min(max(off, -most), most)
		}
		a.usual += share * off
		a.noise += share * ((1-share)*off*off - a.noise)
	}
	if w.cycles >= airLearnCycles {
		w.judge(s)
	} else {
		w.state.Phase = Learning
	}
}

// judge says how the air of the last cycles differs from the usual.
func (w *Watch) judge(s *cycle.Span) {
	st := &w.state
	lacks, more, who := 0, 0, -1
	var least float64
	for c := range s.N {
		a, now := &w.air[c], 0.0
		for _, v := range a.last {
			now += v / airCycles
		}
		limit := max(leastAir, airSDs*math.Sqrt(a.noise/airCycles))
		if st.Phase == Less && st.Cylinder == c+1 {
			limit /= 2 // it ends later than it began
		}
		switch off := now - a.usual; {
		case off < -limit:
			lacks++
			if off < least {
				who, least = c, off
			}
		case off > limit:
			more++
		}
	}
	switch {
	case more > 0 || lacks > 1 || who >= 0 && st.Phase == Less && who+1 != st.Cylinder:
		w.learn(movedCycles)
	case who >= 0 && st.Phase == Less && s.End()-w.since > longestWet:
		w.learn(1)
	case who >= 0:
		if st.Phase != Less {
			st.Again = st.Last == who+1
			w.since = s.End() - airCycles/2*s.Period
		}
		st.Phase, st.Cylinder, st.Share, st.Seconds = Less, who+1, -math.Expm1(least), s.End()-w.since
		st.Last, st.LastShare, st.LastSeconds, st.Ago, w.ended = who+1, st.Share, st.Seconds, 0, s.End()
	default:
		st.Phase, st.Cylinder, st.Share, st.Seconds = Watching, 0, 0, 0
	}
}
