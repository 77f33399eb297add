package cycle

import "math"

// Constants of following: each boundary is predicted from the last cycle, and matched with the template.
const (
	// maxShift is how far, in cycles, a boundary may lie from its prediction.
	// Chosen: a hard blip changes the speed by 15 % a cycle.
	maxShift = 0.25
	// shiftScale is the distance from the prediction, in cycles, at which a match counts as twice as bad. Chosen.
	shiftScale = 0.06
	// shiftTries is how finely maxShift is divided for a search on each side.
	shiftTries = 12
	// maxMisfit is the misfit from which on a match is none. Chosen: 15 % scatter leaves 0.05, one misfire 0.3.
	maxMisfit = 0.5
	// doubtfulMisfit is the misfit from which on a better boundary is looked for.
	doubtfulMisfit = 0.15
	// minApartKPa is added to how far apart two cylinders' pressures lie where a boundary
	// is chosen: the speed is to be exact as well as the difference. Chosen.
	minApartKPa = 6.0
	// maxCyclesBack is how many cycles back following begins at most. Chosen.
	maxCyclesBack = 12
	// The first learnAllCycles are all learned, and any whose period changes by more
	// than the share changingPeriod. Chosen.
	learnAllCycles = 16
	changingPeriod = 0.005
	// maxMisses is for how many boundaries in a row without a match the prediction
	// is used. Chosen: more than two is a stall.
	maxMisses = 2
)

// follow finds the end of each cycle at the same crank position as its start, from all cylinders together.
type follow struct {
	active       bool
	boundary     float64 // time of the last boundary
	period       float64 // of the last cycle
	template     *template
	fit          *fit
	intake       *intake
	misses       int
	noise        float64 // variance of the samples' noise, all cylinders, kPa²
	excessMisfit float64 // of the last match, beyond twice doubtfulMisfit
	cycles       int     // since the beginning
	periodBefore float64 // period of the cycle before the last
	upset        bool    // the air moved otherwise all at once around the last boundary, or the one before
	upsetEnd     bool    // around the last one
	sick         sick
}

func newFollow(cylinders int) *follow {
	return &follow{template: newTemplate(cylinders), fit: newFit(), intake: newIntake(cylinders)}
}

// begin starts following at the best boundary of an old cycle of h. It goes through to the
// newest cycle to settle the template, and then back to the old one.
func (f *follow) begin(h *history, period, until float64) {
	f.active, f.misses, f.period, f.periodBefore, f.cycles = true, 0, period, 0, 0
	f.upset, f.upsetEnd = false, false
	back := math.Floor((until-h.oldest())/period - 1.5*maxShift)
	f.intake.reset()
	f.boundary = until - period*max(min(back, maxCyclesBack), 2)
	f.template.takeShape(h, f.boundary, period)
	f.template.measure()
	best := f.template.bestBoundary(&f.sick)
	f.template.rotate(best)
	f.boundary += period * float64(best) / bins
	first := f.boundary
	for f.active && f.readyAt() <= until {
		f.next(h)
	}
	// The template is now a mean of cycles, by which the boundary is chosen better.
	best = f.template.bestBoundary(&f.sick)
	f.template.rotate(best)
	f.period, f.periodBefore, f.misses = period, 0, 0
	f.boundary = f.fit.boundary(h, f.template, first+period*float64(best)/bins, period)
}

// bestBoundary returns the bin of the boundary that costs least.
func (t *template) bestBoundary(s *sick) int {
	cost := t.boundaryCosts(s)
	_, best, _ := extremes(cost[:])
	return best
}

// boundaryCosts returns, by bin, what an error of a boundary's time there does to the difference of two cylinders:
// little where their pressures, less their means, lie close together, and steep flanks are near.
func (t *template) boundaryCosts(s *sick) (cost [bins]float64) {
	var mean [MaxCylinders]float64
	var steep [bins]float64
	for c, k := range t.kpa {
		mean[c] = meanOf(k)
		for i := range bins {
			d := k[i+1] - k[i]
			steep[i] += d * d
		}
	}
	for i := range bins {
		low, high := math.Inf(1), math.Inf(-1)
		for c, k := range t.kpa {
			low, high = min(low, k[i]-mean[c]), max(high, k[i]-mean[c])
		}
		sum := 0.0
		const half = windowBins
		for j := -half; j < half; j++ {
			x := float64(j) / float64(half)
			sum += (1 - x*x) * steep[(i+j+bins)%bins]
		}
		if len(t.kpa) == 1 {
			low, high = 0, max(high, -low)
		}
		cost[i] = (high - low + minApartKPa) / math.Sqrt(sum) * s.costs(t, i)
	}
	return cost
}

// readyAt returns the time that history must have reached before next can be called.
func (f *follow) readyAt() float64 {
	return f.boundary + f.period*(1+lookAhead)
}

// next finds the next boundary. ok is false when the engine is lost: it
// stalled, or its cycles no longer look like the template.
func (f *follow) next(h *history) (boundary float64, ok bool) {
	expected := f.boundary + f.period
	if t, ok := f.intake.boundary(f.fit, h, expected, f.period); ok {
		f.intake.learn(f.fit, h, t, f.period)
		f.template.measureStrengths(h, t, f.period, f.periodBefore)
		f.misses, f.excessMisfit = 0, 0
		f.advance(h, t)
		return t, true
	}
	f.template.measureStrengths(h, expected, f.period, f.periodBefore)
	f.template.compose()
	t := f.fit.boundary(h, f.template, expected, f.period)
	good := f.misfit() <= doubtfulMisfit && math.Abs(t-expected) < shiftScale*f.period
	if !good {
		t, good = f.search(h, expected, t)
	}
	learn := good
	if !good && len(f.template.kpa) > 1 {
		t, good = f.matchWithoutOne(h, expected)
	}
	if !good {
		f.misses++
		if f.misses > maxMisses {
			f.active = false
			return 0, false
		}
		t = expected
	} else {
		f.misses = 0
		f.excessMisfit = min(max(f.misfit()-2*doubtfulMisfit, 0), maxMisfit)
		if learn {
			f.fit.learn(h, f.template)
			f.intake.restart(f.fit, h, t, f.period)
		}
	}
	f.advance(h, t)
	return t, true
}

// advance takes t for the next boundary, and learns the cycle before the last, whose neighbours are now known.
func (f *follow) advance(h *history, t float64) {
	period := t - f.boundary
	if f.misses == 0 && f.periodBefore > 0 && f.shouldLearn() {
		f.template.learn(h, f.boundary-f.period, f.period, (period-f.periodBefore)/2/f.period, f.excessMisfit)
	}
	f.periodBefore = f.period
	f.period, f.boundary = period, t
	f.upset, f.upsetEnd = f.upsetEnd || f.intake.upset, f.intake.upset
}

// matchWithoutOne leaves out the one cylinder without which the others fit best: its hose may have come off.
func (f *follow) matchWithoutOne(h *history, expected float64) (t float64, ok bool) {
	least := doubtfulMisfit
	for c := range f.template.kpa {
		f.fit.skip = c
		at, found := f.search(h, expected, expected)
		if !found {
			continue
		}
		at = f.fit.boundary(h, f.template, at, f.period)
		if share := f.misfit(); share <= least {
			t, least, ok = at, share, true
		}
	}
	f.fit.skip = -1
	return t, ok
}

// misfit returns the residual variance of the last match beyond the samples' noise, as a share
// of the template's own variance.
func (f *follow) misfit() float64 {
	return max(0, f.fit.residual-f.noise) / (f.fit.power + 1e-9)
}

// shouldLearn reports whether a cycle is learned: each one at first and while cycles change, later every second.
func (f *follow) shouldLearn() bool {
	f.cycles++
	return f.cycles < learnAllCycles || f.cycles%2 == 0 || f.excessMisfit > 0 ||
		math.Abs(f.period-f.periodBefore) > changingPeriod*f.period
}

// search tries boundaries further off than a fit finds by itself.
func (f *follow) search(h *history, expected, found float64) (t float64, ok bool) {
	least := math.Inf(1)
	try := func(at float64) {
		at = f.fit.boundary(h, f.template, at, f.period)
		off := math.Abs(at-expected) / f.period
		share := f.misfit()
		if cost := share * (1 + off*off/(shiftScale*shiftScale)); cost < least && share < maxMisfit && off < maxShift {
			t, least, ok = at, cost, true
		}
	}
	try(found)
	for s := -shiftTries; s <= shiftTries; s += 2 {
		try(expected + maxShift*f.period*float64(s)/shiftTries)
	}
	return t, ok
}
