package cycle

import "math"

// Constants of the opening: the slope of the refill over the nozzle function.
const (
	// openingFrom and openingTo bound the refill that is used, as ratios to
	// ambient. Above, the nozzle function is steep and an error of the zero
	// counts; below, the hose still lags behind the valve.
	openingFrom = 0.5
	openingTo   = 0.85
	// openingRise and openingRest keep off the dip and the next fall, as shares
	// of the swing, where the dip is shallow or the refill incomplete. Chosen.
	openingRise = 0.2
	openingRest = 0.06
	// leastRefill is the shortest refill that is used, in ratios to ambient.
	// Chosen.
	leastRefill = 0.12
	// usualRefill is how much of it is used where it begins late, up to openingMost:
	// in thin air butterflies stand wide, and the runner is half full again when the
	// valve shuts. Chosen.
	usualRefill = 0.15
	openingMost = 0.95
)

// whole returns the ratios to ambient between which a refill is looked at.
func (r *stretch) whole() (from, to float64) {
	swing := r.high - r.low
	return max(openingFrom, (r.low+openingRise*swing)/r.ambient), min(openingTo, (r.high-openingRest*swing)/r.ambient)
}

// ends returns the ratios to ambient between which a hose's refills are used.
func (o *hose) ends() (from, to float64) {
	from = max(openingFrom, o.from)
	return from, max(openingTo, min(from+usualRefill, openingMost))
}

// used returns the same of one refill.
func (o *hose) used(r *stretch) (from, to float64) {
	swing := r.high - r.low
	from, to = o.ends()
	return max(from, (r.low+openingRise*swing)/r.ambient), min(to, (r.high-openingRest*swing)/r.ambient)
}

// between fits a line to the refill between two ratios; its times count from the dip.
func (r *stretch) between(from, to float64) (l line, ok bool) {
	if to-from < leastRefill {
		return l, false
	}
	start := r.h.at(r.dip)
	for i := r.dip; i <= r.end; i++ {
		p := r.ratio(i)
		if p > to && l.n > 0 {
			break
		}
		if p >= from && p <= to {
			l.add(r.h.at(i)-start, refilled(p))
		}
	}
	return l, l.n >= leastSamples && l.slope() > 0
}

// opening returns a figure in proportion to the effective area of the butterfly
// over the volume of the runner, 1/s; NaN when there is none. The lag is undone by
// a factor that is alike in all cycles: undoing it in each would add noise.
func (o *hose) opening(r *stretch) float64 {
	if !o.good {
		return math.NaN()
	}
	l, ok := r.between(o.used(r))
	if !ok {
		return math.NaN()
	}
	return l.slope() * o.factor
}
