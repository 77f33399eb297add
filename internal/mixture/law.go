package mixture

import "math"

// The law of the settled speed at a setting u, d turns richer than the best, p:
//
//	rpm = top - size·fall(d),  fall = d²/skew/(1 + grow d) richer, skew d² (1 + grow |d|) leaner
//
// size in units of a sound cylinder's fall a turn off (usualBend). A charge's torque falls off slowly to the rich side
// of its best and steeply to the lean one (from memory of published curves), and a needle before a fixed jet gives less
// and less a turn: skew and grow tell how much of both there is. What is sought is p; top, size, skew and grow are not
// known, and of how likely each is every setting tells a little.
var (
	skews = [...]float64{1, 1.5, 2.2, 3.2}
	grows = [...]float64{0, 0.6}
	sizes = func() (s [19]float64) {
		for i := range s {
			s[i] = math.Pow(sizeRatio, float64(i-sizeOne))
		}
		return s
	}()
)

// Beliefs about the law. All are chosen.
const (
	nShapes = 2 * len(skews) * len(grows)
	// sizeRatio is between a size and the next, sizeOne the place of the size 1.
	sizeRatio, sizeOne = 1.25, 13
	// likelyOff is how far from where it stands a screw is as likely as not to be best, turns: a Cauchy distribution's
	// half-width, as some are far off.
	likelyOff = 0.75
	// peakStep is the step in which the best is sought, turns; beyond by how much outside the travel it may lie.
	peakStep, beyond = 1.0 / 20, 1.0
	// fallShare, over the number of cylinders, is the share of the speed by which it falls where a cylinder no longer
	// burns as it should: a third of its torque is missing. Such a setting tells on which side the best is not, and
	// nothing else. mostDrop bounds that: of few cylinders too the engine is not left to die.
	fallShare, mostDrop = 0.4, 0.2
	// farLeast is the least share of that which the law must let the speed fall by there, and farDoubt the standard
	// deviation of it: what misfires is in the fall that was seen, and not in the law's.
	farLeast, farDoubt = 0.8, 0.2
	// mostFall, over the number of cylinders, is the share of the speed by which it may be expected to fall at a
	// setting that is looked at.
	mostFall = 0.28
	// logLikely is the logarithm of the share of the likeliest beneath which a cell is left out: one in a million.
	logLikely = -13.8
	// soundSize is the least size of a cylinder that answers.
	soundSize = 0.15
)

// lawShares are by which share of its fall from the best a setting's speed may differ from the law, an even and
// another: the more it has fallen, the less it tells. Setting a screw to a thirty-second is in it. Chosen.
var lawShares = [...]float64{0.05, 0.08}

// fall is what a shape's speed falls by at u where it is best at p, of the size 1.
func fall(shape int, u, p float64) float64 {
	k := shape % (nShapes / 2)
	skew, grow := skews[k/len(grows)], grows[k%len(grows)]
	if d := (u - p) * richOf(shape); d > 0 {
		return d * d / skew / (1 + grow*d)
	} else {
		return skew * d * d * (1 - grow*d)
	}
}
