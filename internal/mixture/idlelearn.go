package mixture

import (
	"math"

	"evendraw/internal/advice"
)

// reverse tells that the turn led away.
func (s *IdleSpeed) reverse(now, middle float64) advice.Advice {
	if s.told.Kind == advice.Reverse { // and the speed still moves away: it is falling back, or not ours
		return s.tellStop(advice.WhyMeasuring)
	}
	s.effect, s.known, s.astray = -s.effect, false, 0
	s.doubt = usualDoubt * math.Abs(s.effect)
	s.told = s.order(middle - now)
	s.told.Kind, s.told.Why = advice.Reverse, advice.WhyAway
	s.start = now
	s.enter(turning)
	return s.told
}

// learn takes what a turn has done, rpm, with its standard error, into the effect: the mean
// of what was known and what was seen, weighted by their variances. A hand that was stopped
// on the way has made fewer turns than told: what it did is then a lower bound of the effect.
func (s *IdleSpeed) learn(done, doubt float64) {
	if s.amount == 0 || math.Abs(done) < max(leastMove, 2*doubt) {
		return
	}
	seen := done / s.amount
	if seen*s.effect < 0 { // that is asked while it is turned
		return
	}
	s.astray = 0
	sd := math.Hypot(doubt/math.Abs(s.amount), handDoubt*seen)
	if s.told.Why == advice.WhyReached && math.Abs(seen) < math.Abs(s.effect) && seen*s.effect > 0 {
		return
	}
	w, v := 1/(s.doubt*s.doubt), 1/(sd*sd)
	s.unseen = 0
	s.effect = (w*s.effect + v*seen) / (w + v)
	s.doubt = 1 / math.Sqrt(w+v)
	s.known = s.doubt < shownEffect*math.Abs(s.effect)
}
