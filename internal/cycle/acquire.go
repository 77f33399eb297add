package cycle

// Constants of the search for a period.
const (
	// gridSeconds is the step of the grid of shifts that are tried. Chosen: an
	// eighth of the shortest cycle; following refines the period.
	gridSeconds = 0.002
	// minSearchSteps is the fewest steps that a search looks over: an idle is found
	// before the history is long enough for the slowest cycle. Chosen.
	minSearchSteps = 200
	// maxDissimilarity is the normalised difference up to which a shift repeats the
	// signal: 0 is a perfect copy, 1 no better than chance. Chosen between the
	// 0.02 of a clean idle and the 0.5 of half a cycle.
	maxDissimilarity = 0.25
	// MinCycleSamples is the fewest samples in a cycle that can be followed. Measured:
	// with 6 the speed of a sine is right, with 3.3 it is not, and nothing shows it.
	MinCycleSamples = 5
	// maxParts is into how many parts a shift is divided to look for the true cycle, and
	// partTolerance how much worse a part may repeat than the whole. Chosen: half a
	// cycle repeats ten times worse.
	maxParts      = 4
	partTolerance = 2.5
	// minPulseSD is the standard deviation of a channel, kPa, up to which nothing
	// pulses. Chosen: nearly twice the noise of a sensor and 10 bits.
	minPulseSD = 0.15
)

// acquire finds the period of a signal that several channels share.
type acquire struct {
	minSteps, maxSteps int // shortest and longest shift that is tried, grid steps
	steps              int // how far the history lets it look now, up to maxSteps
	step               float64
	grid               [][]float64 // by cylinder
	diff               []float64   // normalised difference, by shift
}

func newAcquire(cylinders int, minPeriod, maxPeriod float64) *acquire {
	a := &acquire{step: gridSeconds}
	a.minSteps = max(2, int(minPeriod/a.step))
	a.maxSteps = int(maxPeriod/a.step) + 1
	for range cylinders {
		a.grid = append(a.grid, make([]float64, 2*a.maxSteps))
	}
	a.diff = make([]float64, a.maxSteps+1)
	return a
}

// seconds returns how much history a search needs.
func (a *acquire) seconds() float64 { return float64(2*a.maxSteps) * a.step }

// reach sets how far a search of the samples of h before until can look, and reports whether that is far enough for an
// idle that goes on.
func (a *acquire) reach(h *history, until float64) (enough bool) {
	a.steps = min(a.maxSteps, int((until-h.oldest())/2/a.step))
	return a.steps >= min(a.maxSteps, minSearchSteps)
}

// period looks for a cycle in the samples of h before until, by the normalised difference of
// de Cheveigné and Kawahara (YIN, 2002), summed over channels: a shift by one cycle repeats every
// channel, whatever their order, while a shift from one firing to the next doesn't.
//
//	d(s) = sum over channels and t of (x(t) - x(t-s))²,   diff(s) = s d(s) / (d(1) + ... + d(s))
//
// It looks as far as reach has said.
func (a *acquire) period(h *history, until float64) (seconds float64, ok bool) {
	a.resample(h, until)
	if !a.pulses() {
		return 0, false
	}
	sum := 0.0
	for shift := 1; shift <= a.steps; shift++ {
		d := a.difference(shift)
		sum += d
		a.diff[shift] = d * float64(shift) / sum
	}
	shift := a.firstDip()
	if shift == 0 {
		return 0, false
	}
	shift = a.wholeCycle(shift)
	seconds = a.refine(shift) * a.step
	return seconds, seconds > MinCycleSamples*h.step
}

func (a *acquire) resample(h *history, until float64) {
	n := 2 * a.steps
	for k := range n {
		i, share := h.find(until - float64(n-1-k)*a.step)
		for c := range a.grid {
			a.grid[c][k] = h.value(c, i, share)
		}
	}
}

// pulses reports whether any channel moves by more than noise.
func (a *acquire) pulses() bool {
	for _, g := range a.grid {
		g = g[:2*a.steps]
		var s, q float64
		for _, v := range g {
			s += v
			q += v * v
		}
		n := float64(len(g))
		if q/n-s/n*s/n > minPulseSD*minPulseSD {
			return true
		}
	}
	return false
}

// difference is d of period, over the newest half of the grid.
func (a *acquire) difference(shift int) (sum float64) {
	for _, g := range a.grid {
		now, then := g[a.steps:2*a.steps], g[a.steps-shift:]
		for k, v := range now {
			d := v - then[k]
			sum += d * d
		}
	}
	return sum
}

// firstDip returns the shortest shift at which the signal repeats, 0 if none.
func (a *acquire) firstDip() int {
	for shift := a.minSteps; shift < a.steps; shift++ {
		if a.diff[shift] < maxDissimilarity && a.diff[shift] <= a.diff[shift-1] {
			for shift+1 < a.steps && a.diff[shift+1] < a.diff[shift] {
				shift++
			}
			return shift
		}
	}
	return 0
}

// wholeCycle returns the smallest part of a shift at which the signal repeats about as well, or
// the shift itself: where dips scatter, a multiple of the cycle may pass and the cycle just fail.
func (a *acquire) wholeCycle(shift int) int {
	for m := maxParts; m > 1; m-- {
		at, slack := shift/m, 1+shift/m/16
		if at-slack < a.minSteps {
			continue
		}
		best := at
		for l := at - slack; l <= at+slack; l++ {
			if a.diff[l] < a.diff[best] {
				best = l
			}
		}
		isDip := best != at-slack && best != at+slack
		if isDip && a.diff[best] < min(2*maxDissimilarity, partTolerance*a.diff[shift]) {
			return best
		}
	}
	return shift
}

// refine returns the lowest point of the parabola through a dip and its neighbours.
func (a *acquire) refine(shift int) float64 {
	x, y, z := a.diff[shift-1], a.diff[shift], a.diff[shift+1]
	if bend := x - 2*y + z; bend > 0 {
		return float64(shift) + (x-z)/2/bend
	}
	return float64(shift)
}
