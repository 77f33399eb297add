package engine

import (
	"math"
	"math/rand/v2"
)

// Mixture. The equivalence ratio phi is 1/lambda.
const (
	// bestPhi is the mixture that gives most work: somewhat rich (common practice, no
	// source for the number).
	bestPhi = 1.1
	// workCurve is how fast work falls on either side of it:
	// 1 - workCurve (phi - bestPhi)^2. Chosen: a tenth of the work at lambda 1.13.
	workCurve = 2.0
	// Beyond leanestPhi and richestPhi ever more charges fail to burn, over limitWidth all.
	// Chosen.
	leanestPhi, richestPhi = 0.75, 1.6
	limitWidth             = 0.15
	// exhaustWithoutFire is the lambda of a charge that did not burn. Chosen: above the
	// probe's range.
	exhaustWithoutFire = 3.0
)

// Combustion and its scatter.
const (
	// workPerKg is the gross indicated work per kg of fresh air at bestPhi: 44 MJ/kg of
	// fuel, 14.7 kg of air to one of fuel, an efficiency of 0.155. Chosen: a small,
	// diluted, late-burning charge.
	workPerKg = 44e6 / 14.7 * 0.155
	// workScatter is the standard deviation of a combustion's work over its mean at a
	// healthy idle; a lumpy one is lumpyRoughness times as rough, 15 %. Chosen: a small
	// engine idles less evenly than a large one.
	workScatter    = 0.05
	lumpyRoughness = 3
	// usualResidual is the share of burnt gas at a healthy idle (measured on the model);
	// more of it raises the scatter by residualScatter times the excess, and a mixture
	// off the best one by the square of (phi - bestPhi)/mixtureWidth. Chosen.
	usualResidual   = 0.12
	residualScatter = 8.0
	mixtureWidth    = 0.25
	maxWorkScatter  = 0.6
	// A combustion that gives a share less work burns late, and leaves an exhaust hotter by
	// lateHeat times that share. riseScatter is the relative standard deviation of the
	// residual gas's pressure above ambient: waves in the exhaust. By both, each
	// cylinder's scatter goes from one cycle's exhaust to the next cycle's draw.
	// Chosen: a difference of draws then scatters by about 0.1 kPa from cycle to cycle
	// at a healthy idle.
	lateHeat    = 0.3
	riseScatter = 0.15
	// wanderS is the correlation time of a lumpy engine's wandering, wanderWork its
	// standard deviation, relative to the work of combustion. Chosen: with its rough
	// combustion the speed then wanders by about 80 to 100 rpm either way (two standard
	// deviations).
	wanderS    = 4.0
	wanderWork = 0.008
	// ringsLoss is the relative work that a leak past the rings costs, per mm2. Chosen.
	ringsLoss = 0.02
)

// mixtureWork returns the work at a mixture over the work at bestPhi.
func mixtureWork(phi float64) float64 {
	return max(1-workCurve*(phi-bestPhi)*(phi-bestPhi), 0)
}

// failureProbability returns the probability that a mixture does not burn.
func failureProbability(phi float64) float64 {
	return min(max((leanestPhi-phi)/limitWidth, (phi-richestPhi)/limitWidth, 0), 1)
}

// burning is the way a cylinder burns.
type burning struct {
	phi      float64 // of the charge
	residual float64 // share of burnt gas in it
	misfire  float64 // probability
	rings    float64 // effective area past them, mm2
}

// burnt is what came of a charge.
type burnt struct {
	work   float64 // J
	lambda float64 // of the exhaust
	leftK  float64 // temperature of what is left of it
	rise   float64 // its pressure over the usual one's above ambient
}

// fire holds what chance does to combustion. Every number is drawn whether it is used or
// not: the same chances whatever burns.
type fire struct {
	random    *rand.Rand // size of each combustion
	events    *rand.Rand // misfires, exhaust
	roughness float64    // factor on all scatter; 0 is smooth
	lumpy     bool
	wander    float64 // relative, of all cylinders
}

// burn burns a charge with so many kg of fresh air, if lit.
func (f *fire) burn(fresh float64, b *burning, lit bool) burnt {
	z := f.random.NormFloat64()
	luck, wave := f.events.Float64(), f.events.NormFloat64()
	r := burnt{lambda: exhaustWithoutFire, leftK: coldResidualK, rise: 0}
	if lit {
		r.rise = max(1+f.roughness*riseScatter*wave, 0)
	}
	if !lit || fresh <= 0 || luck < b.misfire || f.roughness > 0 && luck < failureProbability(b.phi) ||
		failureProbability(b.phi) >= 1 {
		return r
	}
	off := (b.phi - bestPhi) / mixtureWidth
	spread := min(f.roughness*workScatter*(1+residualScatter*max(b.residual-usualResidual, 0)+off*off), maxWorkScatter)
	less := min(max(spread*z, -1), 2)
	r.work = workPerKg * fresh * mixtureWork(b.phi) * (1 + less) * (1 + f.wander) * max(1-ringsLoss*b.rings, 0)
	r.lambda = 1 / b.phi
	r.leftK = residualK * min(max(1-lateHeat*less, 0.6), 1.6)
	return r
}

// drift moves the wandering of a lumpy engine over a time h in s: a random walk that is
// drawn back to 0 (Ornstein and Uhlenbeck).
func (f *fire) drift(h float64) {
	if !f.lumpy {
		return
	}
	keep := math.Exp(-h / wanderS)
	f.wander = keep*f.wander + wanderWork*math.Sqrt(1-keep*keep)*f.events.NormFloat64()
}
