package cycle

import (
	"math"

	"evendraw/internal/nozzle"
)

// Constants of the opening: the slope of nozzle.Integral(ratio) against time.
const (
	// openingFrom and openingTo bound the part of a refill that is used, as ratios to ambient. Above, the nozzle
	// function is steep and an error of the zero counts; below, the hose still lags behind the valve.
	openingFrom = 0.5
	openingTo   = 0.85
	// openingRise and openingRest are how far that part keeps off the dip and the next
	// fall, as shares of the swing, where the dip is shallow or the refill incomplete. Chosen.
	openingRise = 0.2
	openingRest = 0.06
	// minRefill is the shortest refill that is used, in ratios to ambient. Chosen.
	minRefill = 0.12
	// usualRefillSpan is the part that is used where the refill begins late, up to maxOpeningTo: in thin air
	// butterflies stand wide, and the runner is half full again when the valve shuts. Chosen.
	usualRefillSpan = 0.15
	maxOpeningTo    = 0.95
	// oddLooks is how many refills show that they are odd. Chosen: some seconds.
	oddLooks = 24
	// minRefillCycle is the fewest samples of a cycle that hold minRefillSamples of a refill. Derived.
	minRefillCycle = 3 * minRefillSamples
)

// NoOpening is why an opening can't be had, "" where it is.
type NoOpening string

// Reasons for having no opening.
const (
	FewRefills NoOpening = "gathering" // it takes some seconds
	ShallowDip NoOpening = "shallow"   // too shallow a dip, or too short a refill
	FewSamples NoOpening = "sparse"    // too few samples in a refill
	BehindJet  NoOpening = "jet"       // the hose passes it on as a small jet does, not by a lag
	OddRefill  NoOpening = "odd"       // it does not rise as behind a butterfly and a plain hose
)

// fitRange returns the ratios to ambient between which a refill is fitted by a line to join it to the mean refill.
func (r *refillSpan) fitRange() (from, to float64) {
	swing := r.high - r.low
	from = max(openingFrom, (r.low+openingRise*swing)/r.ambient)
	return from, min(max(openingTo, min(from+usualRefillSpan, maxOpeningTo)), (r.high-openingRest*swing)/r.ambient)
}

// openingRange returns the ratios to ambient between which a hose's refills show the opening.
func (o *hose) openingRange() (from, to float64) {
	from = max(openingFrom, o.refillFrom)
	return from, max(openingTo, min(from+usualRefillSpan, maxOpeningTo))
}

// openingRangeOf returns the same for one refill.
func (o *hose) openingRangeOf(r *refillSpan) (from, to float64) {
	swing := r.high - r.low
	from, to = o.openingRange()
	return max(from, (r.low+openingRise*swing)/r.ambient), min(to, (r.high-openingRest*swing)/r.ambient)
}

// fitLine fits a line, nozzle.Integral(ratio) against time since the dip, between two ratios.
func (r *refillSpan) fitLine(from, to float64) (l line, ok bool) {
	if to-from < minRefill {
		return l, false
	}
	start := r.h.at(r.dip)
	for i := r.dip; i <= r.end; i++ {
		p := r.ratio(i)
		if p > to && l.n > 0 {
			break
		}
		if p >= from && p <= to {
			l.add(r.h.at(i)-start, nozzle.Integral(p))
		}
	}
	return l, l.n >= minRefillSamples && l.slope() > 0
}

// opening is what one refill shows of a butterfly.
type opening struct {
	area float64 // Span.Opening
	why  NoOpening
	pace float64 // Span.Refill
}

// noOpening is that of a refill that shows nothing.
func noOpening(why NoOpening) opening { return opening{math.NaN(), why, math.NaN()} }

// opening returns that of one refill. The lag is undone by a factor that is the same in all cycles: undoing it in
// each would add noise.
func (o *hose) opening(r *refillSpan) opening {
	from, to := r.fitRange()
	if o.good && !o.isLong() {
		from, to = o.openingRangeOf(r)
	}
	l, ok := r.fitLine(from, to)
	if !ok {
		return noOpening(ShallowDip)
	}
	seen := opening{math.NaN(), "", l.slope()}
	switch {
	case o.longFall || o.kind() == JetHose || o.kind() == PerhapsJet:
		seen.why = BehindJet
	case r.h.step*minRefillCycle > r.period:
		seen.why = FewSamples
	case !o.good && o.refill.looks < oddLooks:
		seen.why = FewRefills
	case !o.good || o.fits == OddHose:
		seen.why = OddRefill
	default:
		seen.area = seen.pace * o.openingFactor
	}
	return seen
}
