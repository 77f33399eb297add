package probe

import "math"

// Probe is a wide-band lambda probe behind a linear controller: two points of its straight line from volts to lambda.
// There is no standard for them; the maker gives them.
type Probe struct{ LowV, HighV, LowLambda, HighLambda float64 }

// Lambda returns what volts at the converter mean; NaN outside the controller's points by more than a hundredth of
// their distance, where it says nothing: probe cold, lead off, or a fault.
func (p *Probe) Lambda(volts float64) float64 {
	share := (volts - p.LowV) / (p.HighV - p.LowV)
	if !(share >= -room && share <= 1+room) {
		return math.NaN()
	}
	return p.LowLambda + share*(p.HighLambda-p.LowLambda)
}

// AtEnd reports whether a lambda is at an end of what the controller can tell:
// beyond it may be anything. A probe in air is at the lean end.
func (p *Probe) AtEnd(lambda float64) bool {
	near := room * math.Abs(p.HighLambda-p.LowLambda)
	return math.Abs(lambda-p.LowLambda) <= near || math.Abs(lambda-p.HighLambda) <= near
}

// room is the share of a controller's range within which a reading counts as
// at its end. Chosen: more than a converter's step.
const room = 0.01

// AFR returns the air/fuel ratio of a lambda for a fuel's stoichiometric ratio.
func AFR(lambda, stoich float64) float64 { return lambda * stoich }

// smoothS is the time constant of the lambda shown, s. Chosen.
const smoothS = 0.5

// State is what the probe tells. Unknown figures are NaN.
type State struct {
	// Lambda is the mean of the last half second, AFR the same as a ratio.
	Lambda, AFR float64
	// AtEnd is set where the controller can tell no more.
	AtEnd bool
	// Of is the cylinder whose exhaust it is in, 0 that of all.
	Of int
}

// Stage is the stage from a controller's volts to lambda.
type Stage struct {
	probe  Probe
	stoich float64
	of     int
	last   float64 // time, s
	mean   float64
	begun  bool
}

// New returns a stage for a probe in the exhaust of one cylinder, or of all when of is 0, and a fuel.
func New(probe Probe, of int, stoich float64) *Stage {
	return &Stage{probe: probe, of: of, stoich: stoich}
}

// Push takes the controller's volts at a time in seconds.
func (l *Stage) Push(now, volts float64) {
	lambda := l.probe.Lambda(volts)
	if math.IsNaN(lambda) {
		l.begun = false
		return
	}
	if !l.begun {
		l.begun, l.mean = true, lambda
	}
	l.mean += (1 - math.Exp(-(now-l.last)/smoothS)) * (lambda - l.mean)
	l.last = now
}

// State returns what the probe tells now.
func (l *Stage) State() State {
	if !l.begun {
		return State{Lambda: math.NaN(), AFR: math.NaN(), Of: l.of}
	}
	return State{Lambda: l.mean, AFR: AFR(l.mean, l.stoich), AtEnd: l.probe.AtEnd(l.mean), Of: l.of}
}
