package cycle

import "math"

// Constants of a mean refill.
const (
	// places of a mean refill, placesCycle of them a cycle, of which so many lie before
	// its middle: the place where the integral over the nozzle function is midway
	// between those of openingFrom and openingTo.
	places       = 88
	placesCycle  = 128
	placesBefore = 28
	// placesLeast is the fewest places that a lag is looked for in. Chosen.
	placesLeast = 12
	// shutAfter is how long after the dip the valve is surely shut, and refillLongest how
	// long a refill is looked at, in cycles. Measured on the practice engine at 75 and
	// 101 kPa, also with a valve that is open for 280 degrees: from 0.12 to 0.15 the
	// openings are right within 1 %; beyond, too little is left at 75 kPa.
	shutAfter     = 0.14
	refillLongest = 0.66
	// movedBy is the change of a refill's slope, as a share, that shows that the
	// butterfly was moved, driftedBy the same of the mean of the last lateLooks: what is
	// the mean of two settings is no nozzle's. Chosen: an eighth of a turn of a screw
	// changes it by 5 to 20 %, cycles differ by 1 to 3.
	movedBy   = 0.06
	driftedBy = 0.02
	lateLooks = 8
	// startsIn and endsIn are the shares of the looks that must have seen a place at its
	// start and at its end. A refill's start still bears what was before it, which
	// differs from look to look; its end does not. Chosen.
	startsIn = 0.8
	endsIn   = 0.4
)

// refillMiddle is the integral over the nozzle function at a mean refill's middle.
var refillMiddle = (refilled(openingFrom) + refilled(openingTo)) / 2

// refill is the mean refill of one cylinder, joined where each passes the middle: a
// refill knows nothing of when it began.
type refill struct {
	step  float64         // of its places, s
	looks float64         // that it is the mean of
	rise  float64         // mean slope of the integral over the nozzle function, 1/s
	late  float64         // the same of the last looks
	ratio [places]float64 // pressure to ambient
	count [places]float64 // looks that a place has had; once there are quickLooks, of as many
}

// add renews the mean with a refill that passes the middle at a time, by slope 1/s of the
// integral over the nozzle function; it begins anew with another speed of the engine and
// when the butterfly was moved. ok is false when the refill is not all kept.
func (m *refill) add(r *stretch, middle, slope float64) (ok bool) {
	step := r.period / placesCycle
	m.late += (slope - m.late) / lateLooks
	if m.looks == 0 || math.Abs(step-m.step) > m.step/4 || math.Abs(slope-m.rise) > movedBy*m.rise ||
		m.looks > 2*lateLooks && math.Abs(m.late-m.rise) > driftedBy*m.rise {
		*m = refill{step: step, rise: slope, late: slope}
	}
	start := middle - placesBefore*m.step
	if start <= r.h.oldest() {
		return false
	}
	from := max(0, int((r.bottom+shutAfter*r.period-start)/m.step)+1)
	end := min(places, int((min(r.bottom+refillLongest*r.period, r.h.newest())-start)/m.step))
	m.looks = min(m.looks+1, quickLooks)
	m.rise += (slope - m.rise) / m.looks
	if m.looks == quickLooks {
		for p := range m.count { // what is no longer seen fades
			m.count[p] -= m.count[p] / quickLooks
		}
	}
	i, _ := r.h.find(start + float64(from)*m.step)
	q := r.h.cubic(r.c, i)
	for p := from; p < end; p++ {
		t := start + float64(p)*m.step
		if r.h.at(i+1) <= t {
			for r.h.at(i+1) <= t {
				i++
			}
			q = r.h.cubic(r.c, i)
		}
		m.count[p] = min(m.count[p]+1, quickLooks)
		m.ratio[p] += (q.at((t-r.h.at(i))/q.step)/r.ambient - m.ratio[p]) / m.count[p]
	}
	return true
}

// seen returns the places that enough looks have seen, from one to before another.
func (m *refill) seen() (from, end int) {
	end = places
	for end > 0 && m.count[end-1] < endsIn*m.looks {
		end--
	}
	for from < end && m.count[from] < startsIn*m.looks {
		from++
	}
	return from, end
}

// slope returns that of the integral over the nozzle function against time, 1/s, between
// two ratios and places; 0 when there are too few of them.
func (m *refill) slope(low, high float64, from, end int) float64 {
	var l line
	for p := from; p < end && m.ratio[p] <= high; p++ {
		if m.ratio[p] >= low {
			l.add(float64(p), refilled(m.ratio[p]))
		}
	}
	if l.n < leastSamples {
		return 0
	}
	return l.slope() / m.step
}
