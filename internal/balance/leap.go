package balance

import "math"

// Constants of cycles that are odd because a charge did not burn. After a misfire the
// practice engine's draws are off by 0.3 to 1.5 kPa in two cycles, of which the first
// costs 1 to 3 % of the speed (measured). A hand moves a lively screw's cylinders by
// up to 0.4 kPa a cycle, in one cycle after another.
const (
	// leapLeast is the least change from one cycle to the next that may be a leap, and
	// leapSigmas how many standard deviations it must be. Chosen.
	leapLeast  = 0.25 // kPa
	leapSigmas = 5.0
	// leapSlowing is the share of the speed that the first cycle of a leap has lost.
	// Chosen: a calm idle's cycles differ by 1 %.
	leapSlowing = 0.01
	// leapCycles is how many cycles in a row are taken for a leap at most: what goes on
	// for longer has come to stay.
	leapCycles = 3
)

// leaps tells cycles after a misfire from a screw that is turned: they leap away as
// the speed falls, and are back within leapCycles.
type leaps struct {
	in  int     // cycles of the leap under way that were left out
	rpm float64 // of the last cycle that was not
}

// odd reports whether the cycle with those draws, openings and speed is to be left out.
func (l *leaps) odd(w *window, draw, opening *perCylinder, rpm float64) bool {
	slowing := l.in > 0 || rpm < (1-leapSlowing)*l.rpm
	if slowing && l.in < leapCycles && w.cycles() > 0 && w.leapt(draw, opening) {
		l.in++
		return true
	}
	l.in, l.rpm = 0, rpm
	return false
}

// leapt reports whether the levels of a cycle with those draws and openings are away
// from those of the last one by more than a hand or the usual scatter moves them.
func (w *window) leapt(draw, opening *perCylinder) bool {
	now := w.level(draw, opening)
	last := &w.at(w.next - 1).level
	for c := range w.n {
		if math.Abs(now[c]-last[c]) > max(leapLeast, leapSigmas*math.Sqrt(w.variance[c])) {
			return true
		}
	}
	return false
}

// Constants of what the cycles that are left out would change.
const (
	// leftMemory is over how many cycles that is averaged. Chosen.
	leftMemory = 80.0
	// mostHidden is the most that this, and what else is not seen, widens the interval of
	// the spread by, kPa.
	// Chosen: with more, a leaking boot's bank is not called level in ten minutes; without,
	// one bank in 24 that misfires was called level at 0.8 kPa (measured).
	mostHidden = 0.12
)

// leave takes a cycle that is left out.
func (w *window) leave(draw, opening *perCylinder) {
	if w.cycles() == 0 {
		return
	}
	now := w.level(draw, opening)
	last := &w.at(w.next - 1).level
	for c := range w.n {
		w.left[c] += (now[c] - last[c] - w.left[c]) / leftMemory
	}
}

// hidden returns by how much the spread would change, kPa, if the cycles that were
// left out counted.
func (w *window) hidden() float64 {
	least, most := w.left[0], w.left[0]
	for _, v := range w.left[:w.n] {
		least, most = min(least, v), max(most, v)
	}
	return most - least
}
