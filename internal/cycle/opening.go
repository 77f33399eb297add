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

// between returns the slope of the refill that is used for the opening, 1/s, with
// a lag undone.
func (r *stretch) between(lag float64) (slope float64, ok bool) {
	from := max(openingFrom, (r.low+openingRise*(r.high-r.low))/r.ambient)
	to := min(openingTo, (r.high-openingRest*(r.high-r.low))/r.ambient)
	if to-from < leastRefill {
		return 0, false
	}
	back := lag / r.step
	var s line
	start := r.h.at(r.dip)
	for i := r.dip; i <= r.end; i++ {
		p := r.ratio(i, back)
		if p > to && s.n > 0 {
			break
		}
		if p >= from && p <= to {
			s.add(r.h.at(i)-start, refilled(p))
		}
	}
	if s.n < leastSamples {
		return 0, false
	}
	slope, _ = s.fit()
	return slope, slope > 0
}

// opening returns a figure in proportion to the effective area of the butterfly
// over the volume of the runner, 1/s; NaN when there is none. The lag is undone by
// a factor that is alike in all cycles: undoing it in each would add noise.
func (o *hose) opening(r *stretch) float64 {
	if !o.good {
		return math.NaN()
	}
	slope, ok := r.between(0)
	if !ok {
		return math.NaN()
	}
	return slope * o.factor
}
