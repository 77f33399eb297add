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
)

// window returns the ratios to ambient between which a refill is used.
func (r *stretch) window() (from, to float64) {
	from = max(openingFrom, (r.low+openingRise*(r.high-r.low))/r.ambient)
	return from, min(openingTo, (r.high-openingRest*(r.high-r.low))/r.ambient)
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
	slope := 0.0
	if l.n >= leastSamples {
		slope, _ = l.fit()
	}
	return l, slope > 0
}

// opening returns a figure in proportion to the effective area of the butterfly
// over the volume of the runner, 1/s; NaN when there is none. The lag is undone by
// a factor that is alike in all cycles: undoing it in each would add noise.
func (o *hose) opening(r *stretch) float64 {
	if !o.good {
		return math.NaN()
	}
	from, to := r.window()
	l, ok := r.between(max(from, o.from), to)
	if !ok {
		return math.NaN()
	}
	slope, _ := l.fit()
	return slope * o.factor
}
