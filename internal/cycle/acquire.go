package cycle

// Constants of the search for a period.
const (
	// gridSeconds is the step of the grid on which a period is looked for.
	// Chosen: an eighth of the shortest cycle; following refines it.
	gridSeconds = 0.002
	// leastLags is how far a search looks at least, in steps: an idle is found
	// before the history reaches to the slowest cycle. Chosen.
	leastLags = 200
	// alike is the normalised difference below which a lag repeats the
	// signal. 0 is perfect, 1 is no better than chance. Chosen between the
	// 0.02 of a clean idle and the 0.5 of half a cycle.
	alike = 0.25
	// fewestSamples in a cycle are enough to follow it. Measured: with 6 the speed
	// of a sine is right, with 3.3 it is not, and nothing tells which is which.
	fewestSamples = 5
	// mostParts of a lag are tried for the cycle itself, and aboutAsWell is how much
	// worse it may repeat than its multiple. Chosen: half a cycle is ten times worse.
	mostParts   = 4
	aboutAsWell = 2.5
	// pulsing is the standard deviation in kPa over all channels together
	// below which nothing is taken for a pulse. Chosen: nearly twice the noise
	// of a sensor and 10 bits; noise by itself does not repeat.
	pulsing = 0.15
)

// acquire finds the period of a signal that several channels share.
type acquire struct {
	minLag, maxLag int // in grid steps
	lags           int // how far the history lets it look now, up to maxLag
	step           float64
	grid           [][]float64 // by cylinder
	diff           []float64   // by lag
}

func newAcquire(cylinders int, minPeriod, maxPeriod float64) *acquire {
	a := &acquire{step: gridSeconds}
	a.minLag = max(2, int(minPeriod/a.step))
	a.maxLag = int(maxPeriod/a.step) + 1
	for range cylinders {
		a.grid = append(a.grid, make([]float64, 2*a.maxLag))
	}
	a.diff = make([]float64, a.maxLag+1)
	return a
}

// seconds returns how much history a search needs.
func (a *acquire) seconds() float64 { return float64(2*a.maxLag) * a.step }

// period looks for a cycle in the newest part of h. It follows the difference
// function of de Cheveigné and Kawahara (YIN, 2002), summed over channels: a
// lag of one cycle repeats every channel, whatever their order, while lags
// between firings don't.
func (a *acquire) period(h *history, until float64) (seconds float64, ok bool) {
	a.lags = min(a.maxLag, int((until-h.oldest())/2/a.step))
	if a.lags < min(a.maxLag, leastLags) {
		return 0, false
	}
	a.resample(h, until)
	if !a.moves() {
		return 0, false
	}
	sum := 0.0
	for lag := 1; lag <= a.lags; lag++ {
		d := a.difference(lag)
		sum += d
		a.diff[lag] = d * float64(lag) / sum
	}
	lag := a.firstDip()
	if lag == 0 {
		return 0, false
	}
	lag = a.part(lag)
	seconds = a.refine(lag) * a.step
	return seconds, seconds > fewestSamples*h.step
}

func (a *acquire) resample(h *history, until float64) {
	n := 2 * a.lags
	for k := range n {
		i, share := h.find(until - float64(n-1-k)*a.step)
		for c := range a.grid {
			a.grid[c][k] = h.value(c, i, share)
		}
	}
}

// moves reports whether anything pulses at all.
func (a *acquire) moves() bool {
	for _, g := range a.grid {
		g = g[:2*a.lags]
		var s, q float64
		for _, v := range g {
			s += v
			q += v * v
		}
		n := float64(len(g))
		if q/n-s/n*s/n > pulsing*pulsing {
			return true
		}
	}
	return false
}

// difference sums (x(t) - x(t+lag))² over the newest half of the grid.
func (a *acquire) difference(lag int) (sum float64) {
	for _, g := range a.grid {
		now, then := g[a.lags:2*a.lags], g[a.lags-lag:]
		for k, v := range now {
			d := v - then[k]
			sum += d * d
		}
	}
	return sum
}

// firstDip returns the shortest lag at which the signal repeats, 0 if none.
func (a *acquire) firstDip() int {
	for lag := a.minLag; lag < a.lags; lag++ {
		if a.diff[lag] < alike && a.diff[lag] <= a.diff[lag-1] {
			for lag+1 < a.lags && a.diff[lag+1] < a.diff[lag] {
				lag++
			}
			return lag
		}
	}
	return 0
}

// part returns the part of a lag at which the signal repeats about as well: where
// dips scatter, the cycle itself may just miss what a multiple of it reaches.
func (a *acquire) part(lag int) int {
	for m := mostParts; m > 1; m-- {
		at, slack := lag/m, 1+lag/m/16
		if at-slack < a.minLag {
			continue
		}
		best := at
		for l := at - slack; l <= at+slack; l++ {
			if a.diff[l] < a.diff[best] {
				best = l
			}
		}
		if best != at-slack && best != at+slack && a.diff[best] < 2*alike && a.diff[best] < aboutAsWell*a.diff[lag] {
			return best
		}
	}
	return lag
}

// refine returns the lag of the parabola through three neighbours of a dip.
func (a *acquire) refine(lag int) float64 {
	x, y, z := a.diff[lag-1], a.diff[lag], a.diff[lag+1]
	if bend := x - 2*y + z; bend > 0 {
		return float64(lag) + (x-z)/2/bend
	}
	return float64(lag)
}
