package balance

import (
	"math"

	"evendraw/internal/faults"
)

// Constants of what counts as a turn of a screw.
const (
	// othersMisfit is the most that a movement may be off what a screw does to all cylinders, as a share of it;
	// ownMisfit that of the screw that was named, which is more likely: a cylinder that breathes badly hardly answers.
	// Derived: a neighbour's turn is off by 1.4, one that moves one of two cylinders by 0.3 of the other by 0.8.
	othersMisfit, ownMisfit = 0.5, 0.85
	// speedPart is by how much what is wanted may change with the speed, or with the mean draw, as a share
	// of what the screw's cylinders stand apart, for a change by a factor e. Measured on the practice
	// engine with a hand on the throttle stop: up to 3.
	speedPart = 3.5
	// othersPart of the spread is what counts at least. Chosen: butterflies do not all answer alike.
	othersPart = 0.3
	// swingCycles is for how long a change of the speed still moves the draws. Measured on the practice
	// engine: an idle that is made to wander by the throttle stop, in 8 s.
	swingCycles = 16
	// mostStep is the most that a hand moves a cylinder from one cycle to the next, kPa. Chosen: half
	// a turn a second of a screw of 24 kPa a turn, at 600 rpm, is 2.4; the mean of all then moves by half as much.
	mostStep = 3.0
	// leastColumn is the least movement that tells how a screw moves the cylinders, kPa.
	leastColumn = 0.6
)

// state is how the bank stood when it was last at rest.
type state struct {
	wanted    perScrew
	scaled    perCylinder
	rpm, mean float64 // speed, and mean draw
	// known are the cylinders, as bits, whose openings were known in most of the cycles.
	known uint
}

// stateOver returns the state over cycles from to before to.
func (w *window) stateOver(from, to int) (s state) {
	s.scaled = w.meanScaled(from, to)
	s.wanted = w.link.Wanted(&s.scaled)
	s.rpm, s.mean = w.speedOver(from, to)
	for c := range w.n {
		known := 0
		for k := from; k < to; k++ {
			if w.openingKnown(c, k) {
				known++
			}
		}
		if 2*known > to-from {
			s.known |= 1 << c
		}
	}
	return s
}

// openingKnown reports whether cycle number k tells the opening of cylinder c.
func (w *window) openingKnown(c, k int) bool { return w.opening[c].at(k) > 0 }

// readUnlike returns for how many cycles, up to now, a cylinder's opening has been known that was not at rest, or the
// other way round. Its hose is then taken for another one, which moves its draw though no screw has: by 2 kPa (measured
// on the practice engine, an idle that wanders and comes to rest).
func (w *window) readUnlike(rest *state) (cycles int) {
	for c := range w.n {
		k := w.next
		for k > w.first && w.openingKnown(c, k-1) != (rest.known>>c&1 == 1) {
			k--
		}
		cycles = max(cycles, w.next-k)
	}
	return cycles
}

// speedOver returns the mean speed, and the mean draw, over cycles from to before to.
func (w *window) speedOver(from, to int) (rpm, mean float64) {
	for k := from; k < to; k++ {
		rpm += w.at(k).rpm / float64(to-from)
		mean += w.at(k).mean / float64(to-from)
	}
	return rpm, mean
}

// atRest returns the state over the whole window.
func (w *window) atRest() state { return w.stateOver(w.first, w.next) }

// lately returns the state over the last few cycles.
func (w *window) lately() state { return w.stateOver(max(w.first, w.next-recentCycles), w.next) }

// disturbance returns how much of what screw s seems to have moved since rest may come from the speed,
// or from what all cylinders did together, kPa: they scale how far the draws stand apart. Of the last
// swingCycles, but none before cycle number since, the farthest off counts, as the draws follow late.
func (w *window) disturbance(s int, rest *state, since int) float64 {
	ratio := func(a, b float64) float64 { return math.Abs(math.Log(max(a, 1) / max(b, 1))) }
	swing := 0.0
	for to := w.next; to == w.next || to > max(since, w.next-swingCycles); to -= recentCycles {
		rpm, mean := w.speedOver(max(to-recentCycles, 0), to)
		swing = max(swing, ratio(rpm, rest.rpm), ratio(mean, rest.mean))
	}
	return w.moves(s, rest, swing)
}

// moves returns by how much a change of the speed by that share may move what is wanted of screw s, kPa, where the bank
// stands so.
func (w *window) moves(s int, rest *state, swing float64) float64 {
	var apart perCylinder
	least, most := math.Inf(1), math.Inf(-1)
	for c := range w.n {
		apart[c] = rest.scaled[c] - faults.NominalDraw
		least, most = min(least, apart[c]), max(most, apart[c])
	}
	return speedPart * swing * max(math.Abs(w.link.Along(s, &apart)), othersPart*(most-least))
}

// jumped reports whether a cylinder, or the mean of all, has moved faster than by hand in the last few cycles.
func (w *window) jumped() bool {
	for k := max(1, w.next-2*recentCycles); k < w.next; k++ {
		if math.Abs(w.at(k).mean-w.at(k-1).mean) > mostStep/2 || w.leapsAt(k) {
			return true
		}
	}
	return false
}

// leapsAt reports whether a cylinder has moved faster than by hand in cycle number k.
func (w *window) leapsAt(k int) bool {
	for c := range w.n {
		if k > 0 && math.Abs(w.at(k).scaled[c]-w.at(k - 1).scaled[c]) > mostStep {
			return true
		}
	}
	return false
}

// learnColumn learns from a movement of screw s alone how it moves all cylinders: passages that join the runners have
// it move them all. What is wanted in the state to is reckoned anew by that.
func (w *window) learnColumn(s int, from, to *state) {
	l := &w.link
	kpa, misfit := l.Moved(s, &from.scaled, &to.scaled)
	if misfit > ownMisfit || math.Abs(kpa) < leastColumn || !l.Learn(s, kpa, &from.scaled, &to.scaled) {
		return
	}
	to.wanted = l.Wanted(&to.scaled)
	for k := w.first; k < w.next; k++ {
		w.at(k).wanted = l.Wanted(&w.at(k).scaled)
	}
}
