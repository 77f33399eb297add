package cycle

import (
	"math"
	"sync"

	"evendraw/internal/nozzle"
)

// Constants of a mean refill.
const (
	// A mean refill has refillPlaces places, placesPerCycle to a cycle, placesBefore of
	// them before its middle: see refillMiddle.
	refillPlaces   = 88
	placesPerCycle = 128
	placesBefore   = 28
	// minPlaces is the fewest places that a lag is looked for in. Chosen.
	minPlaces = 12
	// valveShutAfter is how long after the dip the valve is surely shut, and maxRefillTime how long a refill is looked
	// at, in cycles. Measured on the practice engine at 75 and 101 kPa, also with a valve that is open for 280 degrees:
	// from 0.12 to 0.15 the openings are right within 1 %; beyond, too little is left at 75 kPa.
	valveShutAfter = 0.14
	maxRefillTime  = 0.66
	// A refill whose slope changes by the share movedShare, or by driftedShare in the mean of the last recentLooks,
	// shows that the butterfly was moved: the mean of two settings is not a nozzle's. Chosen: an eighth of a turn of a
	// screw changes it by 5 to 20 %, cycles differ by 1 to 3.
	movedShare   = 0.06
	driftedShare = 0.02
	recentLooks  = 8
	// steadyShare is by how much, as a share, the mean cycle may differ in length from the first. Chosen: a jet was
	// found behind plain hoses as the speed died away after a blip (measured).
	steadyShare = 0.02
	// minStartSeen and minEndSeen are the shares of the refills that must have had a place for
	// it to be used, at the start of the mean refill and at its end. At the start refills still
	// bear what was before, which differs between them; at the end they don't. Chosen.
	minStartSeen = 0.8
	minEndSeen   = 0.4
	// A mean refill that ends lower than its highest place by minNextFall, a ratio to ambient, ends in the next fall:
	// behind a jet that comes later after the dip. The fall begins some fallPlaces before the highest place. Measured
	// behind jets of 0.1 to 0.2 mm²; six times the noise of minJetLooks refills.
	minNextFall = 0.001
	fallPlaces  = 6
)

// refillMiddle is nozzle.Integral at a mean refill's middle.
var refillMiddle float64

// fillTables works out the tables, once: before the first tracker, as a program that needs none is to start at once.
var fillTables = sync.OnceFunc(func() {
	nozzle.Fill()
	refillMiddle = (nozzle.Integral(openingFrom) + nozzle.Integral(openingTo)) / 2
	volumeTable = volumes()
	flowTable = flows()
})

// refill is the mean refill of one cylinder. Refills are laid over each other where they pass the
// middle, as when one begins is not seen in it.
type refill struct {
	step       float64               // from place to place, s: of the first cycle
	meanStep   float64               // of all cycles
	looks      float64               // refills in the mean, at most rememberedLooks
	rise       float64               // mean slope of nozzle.Integral against time, 1/s
	recentRise float64               // the same over recentLooks
	ratio      [refillPlaces]float64 // pressure to ambient
	count      [refillPlaces]float64 // refills that had a place, of looks
}

// add renews the mean with a refill that passes the middle at the time middle, nozzle.Integral growing by slope, 1/s;
// late is by how much the dip is felt late, s. The mean begins anew with another speed of the engine and when the
// butterfly was moved. ok is false when the history no longer has the whole refill.
func (m *refill) add(r *refillSpan, middle, slope, late float64) (ok bool) {
	step := r.period / placesPerCycle
	m.recentRise += (slope - m.recentRise) / recentLooks
	if m.looks == 0 || math.Abs(step-m.step) > m.step/4 || math.Abs(slope-m.rise) > movedShare*m.rise ||
		m.looks > 2*recentLooks && math.Abs(m.recentRise-m.rise) > driftedShare*m.rise {
		*m = refill{step: step, meanStep: step, rise: slope, recentRise: slope}
	}
	start := middle - placesBefore*m.step
	if start <= r.h.oldest() {
		return false
	}
	bottom := r.bottom - late
	from := max(0, int((bottom+valveShutAfter*r.period-start)/m.step)+1)
	end := min(refillPlaces, int((min(bottom+maxRefillTime*r.period, r.h.newest())-start)/m.step))
	m.looks = min(m.looks+1, rememberedLooks)
	m.rise += (slope - m.rise) / m.looks
	m.meanStep += (step - m.meanStep) / m.looks
	if m.looks == rememberedLooks {
		for p := range m.count { // places that refills no longer have fade
			m.count[p] -= m.count[p] / rememberedLooks
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
		m.count[p] = min(m.count[p]+1, rememberedLooks)
		m.ratio[p] += (q.at((t-r.h.at(i))/q.step)/r.ambient - m.ratio[p]) / m.count[p]
	}
	return true
}

// isSteady reports whether the cycles stayed about as long as the first.
func (m *refill) isSteady() bool { return math.Abs(m.meanStep-m.step) < steadyShare*m.step }

// seenPlaces returns the range of places that enough refills had; end is not in it.
func (m *refill) seenPlaces() (from, end int) {
	end = refillPlaces
	for end > 0 && m.count[end-1] < minEndSeen*m.looks {
		end--
	}
	for from < end && m.count[from] < minStartSeen*m.looks {
		from++
	}
	peak := from
	for p := from; p < end; p++ {
		if m.ratio[p] > m.ratio[peak] {
			peak = p
		}
	}
	if m.looks >= minJetLooks && from < end && m.ratio[peak]-m.ratio[end-1] > minNextFall {
		end = max(from, peak-fallPlaces)
	}
	return from, end
}

// slope returns the slope of nozzle.Integral against time, 1/s, between two ratios and places; 0
// when too few places lie there.
func (m *refill) slope(low, high float64, from, end int) float64 {
	var l line
	for p := from; p < end && m.ratio[p] <= high; p++ {
		if m.ratio[p] >= low {
			l.add(float64(p), nozzle.Integral(m.ratio[p]))
		}
	}
	if l.n < minRefillSamples {
		return 0
	}
	return l.slope() / m.step
}

// noiseRMS returns the most that noise leaves of a fit to the mean, root mean square, as a ratio to ambient.
func (m *refill) noiseRMS() float64 { return noiseSDs * placeNoise / math.Sqrt(m.looks) }
