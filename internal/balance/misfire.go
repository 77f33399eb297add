package balance

import (
	"math"
	"slices"
)

// Constants of cycles that a misfire spoils: their draws leap away and come back. After a misfire the practice engine's
// draws are off by 0.3 to 1.5 kPa for two cycles, the first of which costs 1 to 3 % of the speed (measured). A hand
// moves a lively screw's cylinders by up to 0.4 kPa a cycle, and keeps on moving them.
const (
	// leapLeast is the least change from one cycle to the next that may be a leap;
	// leapSigmas is the same in standard deviations. Chosen.
	leapLeast  = 0.25 // kPa
	leapSigmas = 5.0
	// leapSlowing is the share of the speed that the first cycle of a leap has lost.
	// Chosen: a calm idle's cycles differ by 1 %.
	leapSlowing = 0.01
	// leapCycles is how many cycles in a row are rejected at most: what goes on for longer has come to stay.
	leapCycles = 3
)

// misfireFilter tells the cycles after a misfire from those of a screw that is turned: their
// draws leap away as the speed falls, and are back within leapCycles.
type misfireFilter struct {
	rejected int     // cycles in a row, up to now
	rpm      float64 // of the last cycle that was kept
}

// rejects reports whether the cycle with those draws, openings and speed is to be left out.
func (f *misfireFilter) rejects(w *window, draw, opening *perCylinder, rpm float64) bool {
	slowing := f.rejected > 0 || rpm < (1-leapSlowing)*f.rpm
	if slowing && f.rejected < leapCycles && w.cycles() > 0 && w.leapt(draw, opening) {
		f.rejected++
		return true
	}
	f.rejected, f.rpm = 0, rpm
	return false
}

// leapt reports whether a cycle with those draws and openings is further from the last one, in its
// scaled draws, than a hand or the usual scatter moves it.
func (w *window) leapt(draw, opening *perCylinder) bool {
	now := w.scaled(draw, opening)
	last := &w.at(w.next - 1).scaled
	for c := range w.n {
		if math.Abs(now[c]-last[c]) > max(leapLeast, leapSigmas*math.Sqrt(w.variance[c])) {
			return true
		}
	}
	return false
}

// Constants of what the rejected cycles hide.
const (
	// rejectedMemory is over how many cycles their scaled draws are averaged. Chosen.
	rejectedMemory = 80.0
	// mostHidden is the most by which what they hide, together with what a weak pulse hides, widens the interval of the
	// spread, kPa. Chosen: with more, a leaking boot's bank is not called level in ten minutes; with none, one bank in
	// 24 that misfires was called level at 0.8 kPa (measured).
	mostHidden = 0.12
	// hiddenTimes is how often what they hide of a difference counts in its interval: once, and a little more as it is
	// known from few cycles. Measured: with misfires 69 to 81 of 100 intervals held the mean of all cycles with 0, 93
	// to 97 with 1, 98 to 100 with 2.
	hiddenTimes = 1.25
)

// noteRejected averages how far the scaled draws of a rejected cycle are from the last one's.
func (w *window) noteRejected(draw, opening *perCylinder) {
	if w.cycles() == 0 {
		return
	}
	now := w.scaled(draw, opening)
	last := &w.at(w.next - 1).scaled
	for c := range w.n {
		w.rejectedOff[c] += (now[c] - last[c] - w.rejectedOff[c]) / rejectedMemory
	}
}

// rejectedApart returns by how much the difference of two cylinders might change if rejected cycles counted, kPa.
func (w *window) rejectedApart(c, ref int) float64 {
	return hiddenTimes * math.Abs(w.rejectedOff[c]-w.rejectedOff[ref])
}

// rejectedSpread returns by how much the spread might change if rejected cycles counted, kPa.
func (w *window) rejectedSpread() float64 {
	off := w.rejectedOff[:w.n]
	return slices.Max(off) - slices.Min(off)
}
