package cycle

import "math"

// Constants of following: each boundary is predicted from the last cycle, and
// matched with the template.
const (
	// reach is how far, in cycles, a boundary may lie from where the last
	// period puts it. Chosen: a hard blip changes the speed by 15 % a cycle.
	reach = 0.25
	// likely is the change of speed from cycle to cycle, as a share, that makes
	// a match half as likely. Chosen.
	likely = 0.06
	// shifts tried to each side of the prediction when the match fails.
	shifts = 12
	// mismatch is the residual variance, as a share of the template's own,
	// above which a match is none. Chosen: 15 % scatter leaves 0.05, one
	// misfire 0.3.
	mismatch = 0.5
	// doubtful is the same, above which a better place is looked for.
	doubtful = 0.15
	// leastApart is what two cylinders' pressures are counted apart at least, kPa, where
	// a boundary is chosen: the speed is to be right too. Chosen.
	leastApart = 6.0
	// mostBack is how many cycles back following begins at most. Chosen.
	mostBack = 12
	// learnAll is how many cycles are all learned, and changing the change of the
	// period, as a share, above which they still are. Chosen.
	learnAll = 16
	changing = 0.005
	// patience is how many boundaries in a row may fail to match, at which
	// the prediction is used instead. Chosen: more than two is a stall.
	patience = 2
)

// follow finds the end of each cycle at the same crank position as its start,
// from all cylinders together.
type follow struct {
	active   bool
	boundary float64 // time of the last boundary
	period   float64 // of the last cycle
	template *template
	fit      *fit
	intake   *intake
	misses   int
	noise    float64 // variance of the samples' noise, all cylinders, kPa²
	strange  float64 // residual of the last match beyond twice doubtful, share of the power
	seen     int     // cycles since the beginning
	before   float64 // period of the cycle before the last
}

func newFollow(cylinders int) *follow {
	return &follow{template: newTemplate(cylinders), fit: newFit(), intake: newIntake(cylinders)}
}

// begin starts following at the best boundary of an old cycle of h. It goes on to the
// newest and back again, so that the template is settled.
func (f *follow) begin(h *history, period, until float64) {
	f.active, f.misses, f.period, f.before, f.seen = true, 0, period, 0, 0
	back := math.Floor((until-h.oldest())/period - 1.5*reach)
	f.intake.begin()
	f.boundary = until - period*max(min(back, mostBack), 2)
	f.template.take(h, f.boundary, period)
	best := f.template.bestBoundary()
	f.template.rotate(best)
	f.template.expect()
	f.boundary += period * float64(best) / bins
	first := f.boundary
	for f.active && f.ready() <= until {
		f.next(h)
	}
	// By now the template is a mean of cycles: choose again, and go back to the first.
	best = f.template.bestBoundary()
	f.template.rotate(best)
	f.template.expect()
	f.period, f.before, f.misses = period, 0, 0
	f.boundary = f.fit.boundary(h, f.template, first+period*float64(best)/bins, period)
}

// bestBoundary returns the bin at which an error in the boundary's time does the
// least to the difference of two cylinders: where their pressures, less their
// means, lie close together, and steep flanks are near.
func (t *template) bestBoundary() int {
	var mean [MaxCylinders]float64
	var steep [bins]float64
	for c, k := range t.kpa {
		mean[c] = meanOf(k)
		for i := range bins {
			d := k[i+1] - k[i]
			steep[i] += d * d
		}
	}
	best, least := 0, math.Inf(1)
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
		if cost := (high - low + leastApart) / math.Sqrt(sum); cost < least {
			best, least = i, cost
		}
	}
	return best
}

// ready returns the time that history must have reached before next can be
// called.
func (f *follow) ready() float64 {
	return f.boundary + f.period*(1+ahead)
}

// next finds the next boundary. ok is false when the engine is lost: it
// stalled, or the cycles no longer look alike.
func (f *follow) next(h *history) (boundary float64, ok bool) {
	expected := f.boundary + f.period
	if t, ok := f.intake.boundary(f.fit, h, expected, f.period); ok {
		f.intake.learn(f.fit, h, t, f.period)
		f.template.measureStrengths(h, t, f.period, f.before) // for the template, and what comes
		f.misses, f.strange = 0, 0
		f.advance(h, t)
		return t, true
	}
	f.template.measureStrengths(h, expected, f.period, f.before)
	t := f.fit.boundary(h, f.template, expected, f.period)
	good := f.alike() <= doubtful && math.Abs(t-expected) < likely*f.period
	if !good {
		t, good = f.search(h, expected, t)
	}
	learn := good
	if !good && len(f.template.kpa) > 1 {
		t, good = f.without(h, expected)
	}
	if !good {
		f.misses++
		if f.misses > patience {
			f.active = false
			return 0, false
		}
		t = expected
	} else {
		f.misses = 0
		f.strange = min(max(f.alike()-2*doubtful, 0), mismatch)
		if learn {
			f.fit.learn(h, f.template)
			f.intake.restart(f.fit, h, t, f.period)
		}
	}
	f.advance(h, t)
	return t, true
}

// advance takes t for the next boundary, and learns the cycle before the last,
// whose neighbours are now known.
func (f *follow) advance(h *history, t float64) {
	period := t - f.boundary
	if f.misses == 0 && f.before > 0 && f.teaches() {
		f.template.learn(h, f.boundary-f.period, f.period, (period-f.before)/2/f.period, f.strange)
	}
	f.before = f.period
	f.period, f.boundary = period, t
}

// without leaves out one cylinder, with which the rest fit best: its hose may have
// come off.
func (f *follow) without(h *history, expected float64) (t float64, ok bool) {
	least := doubtful
	for c := range f.template.kpa {
		f.fit.skip = c
		at, found := f.search(h, expected, expected)
		if !found {
			continue
		}
		at = f.fit.boundary(h, f.template, at, f.period)
		if share := f.alike(); share <= least {
			t, least, ok = at, share, true
		}
	}
	f.fit.skip = -1
	return t, ok
}

// alike returns how far the last match is from the template: what is left over
// the samples' noise, as a share of the template's own variance.
func (f *follow) alike() float64 {
	return max(0, f.fit.residual-f.noise) / (f.fit.power + 1e-9)
}

// teaches reports whether a cycle is learned: each at first and while they
// change, later every second.
func (f *follow) teaches() bool {
	f.seen++
	return f.seen < learnAll || f.seen%2 == 0 || f.strange > 0 || math.Abs(f.period-f.before) > changing*f.period
}

// search tries places further off than a fit finds by itself.
func (f *follow) search(h *history, expected, found float64) (t float64, ok bool) {
	least := math.Inf(1)
	try := func(at float64) {
		at = f.fit.boundary(h, f.template, at, f.period)
		off := math.Abs(at-expected) / f.period
		share := f.alike()
		if cost := share * (1 + off*off/(likely*likely)); cost < least && share < mismatch && off < reach {
			t, least, ok = at, cost, true
		}
	}
	try(found)
	for s := -shifts; s <= shifts; s += 2 {
		try(expected + reach*f.period*float64(s)/shifts)
	}
	return t, ok
}
