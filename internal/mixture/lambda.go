package mixture

import "math"

// Probe is a wide-band lambda probe behind a linear controller: two points of its straight line from volts to lambda.
// There is no standard for them; the maker gives them.
type Probe struct{ LowV, HighV, LowLambda, HighLambda float64 }

// Lambda returns what volts at the converter mean; NaN outside the controller's points by more than a hundredth of
// their distance, where it says nothing: probe cold, lead off, or a fault.
func (p *Probe) Lambda(volts float64) float64 {
	share := (volts - p.LowV) / (p.HighV - p.LowV)
	if !(share >= -probeRoom && share <= 1+probeRoom) {
		return math.NaN()
	}
	return p.LowLambda + share*(p.HighLambda-p.LowLambda)
}

// AtEnd reports whether a lambda is at an end of what the controller can tell:
// beyond it may be anything. A probe in air is at the lean end.
func (p *Probe) AtEnd(lambda float64) bool {
	room := probeRoom * math.Abs(p.HighLambda-p.LowLambda)
	return math.Abs(lambda-p.LowLambda) <= room || math.Abs(lambda-p.HighLambda) <= room
}

// probeRoom is the share of a controller's range within which a reading counts as
// at its end. Chosen: more than a converter's step.
const probeRoom = 0.01

// AFR returns the air/fuel ratio of a lambda for a fuel's stoichiometric ratio.
func AFR(lambda, stoich float64) float64 { return lambda * stoich }

// Constants of the probe's time.
const (
	// DefaultProbeDelayS is how long exhaust takes to the probe, and probe and controller to answer. Chosen: half a
	// second and less are common at idle, and that twice over.
	DefaultProbeDelayS = 1.0
	// probeSmoothS is the time constant of the lambda shown. Chosen.
	probeSmoothS = 0.5
)

// ProbeState is what the probe tells. Unknown figures are NaN.
type ProbeState struct {
	// Lambda is the mean of the last half second, AFR the same as a ratio.
	Lambda, AFR float64
	// AtEnd is set where the controller can tell no more.
	AtEnd bool
	// Of is the cylinder whose exhaust it is in, 0 that of all.
	Of int
}

// Lambdas is the stage from a controller's volts to lambda.
type Lambdas struct {
	probe  Probe
	stoich float64
	of     int
	last   float64 // time, s
	mean   float64
	begun  bool
}

// NewLambdas returns a stage for a probe in the exhaust of one cylinder, or of all when of is 0, and a fuel.
func NewLambdas(probe Probe, of int, stoich float64) *Lambdas {
	return &Lambdas{probe: probe, of: of, stoich: stoich}
}

// Push takes the controller's volts at a time in seconds.
func (l *Lambdas) Push(now, volts float64) {
	lambda := l.probe.Lambda(volts)
	if math.IsNaN(lambda) {
		l.begun = false
		return
	}
	if !l.begun {
		l.begun, l.mean = true, lambda
	}
	l.mean += (1 - math.Exp(-(now-l.last)/probeSmoothS)) * (lambda - l.mean)
	l.last = now
}

// State returns what the probe tells now.
func (l *Lambdas) State() ProbeState {
	if !l.begun {
		return ProbeState{Lambda: math.NaN(), AFR: math.NaN(), Of: l.of}
	}
	return ProbeState{Lambda: l.mean, AFR: AFR(l.mean, l.stoich), AtEnd: l.probe.AtEnd(l.mean), Of: l.of}
}

// probeMeans keeps the probe's mean 1/lambda at each setting of a screw: it changes in proportion to the screw's turns.
type probeMeans struct {
	delay float64
	means [MaxPoints]probeMean
	n     int
}

// probeMean is the probe at one setting.
type probeMean struct{ at, sum, n float64 }

func (m *probeMeans) clear() { m.n = 0 }

// push takes a lambda at a setting that has stood since a time. Before the delay is over the exhaust
// is still of the setting before.
func (m *probeMeans) push(now, at, lambda, since float64) {
	if math.IsNaN(lambda) || now-since < m.delay {
		return
	}
	for i := range m.means[:m.n] {
		if p := &m.means[i]; p.at == at {
			p.sum += 1 / lambda
			p.n++
			return
		}
	}
	if m.n < MaxPoints {
		m.means[m.n] = probeMean{at, 1 / lambda, 1}
		m.n++
	}
}

// line fits 1/lambda = a + b·at; ok is false with fewer than two settings.
func (m *probeMeans) line() (a, b float64, ok bool) {
	if m.n < 2 {
		return 0, 0, false
	}
	var sw, sx, sy, sxx, sxy float64
	for _, p := range m.means[:m.n] {
		y := p.sum / p.n
		sw, sx, sy, sxx, sxy = sw+p.n, sx+p.n*p.at, sy+p.n*y, sxx+p.n*p.at*p.at, sxy+p.n*p.at*y
	}
	b = (sw*sxy - sx*sy) / (sw*sxx - sx*sx)
	return (sy - b*sx) / sw, b, true
}

// lambdaAt returns the lambda at a setting: the mean there, else by the line; NaN where neither is known.
func (m *probeMeans) lambdaAt(at float64) float64 {
	for _, p := range m.means[:m.n] {
		if p.at == at {
			return p.n / p.sum
		}
	}
	if a, b, ok := m.line(); ok {
		return 1 / (a + b*at)
	}
	return math.NaN()
}
