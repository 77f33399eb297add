package mixture

import (
	"math"
	"testing"

	"evendraw/internal/effort"
)

// probeNoise is the standard deviation of a reading's lambda. Chosen.
const probeNoise = 0.01

// faultyProbe is a wide-band probe in an exhaust, and what is wrong with it.
type faultyProbe struct {
	name string
	of   int     // the pipe that the trim is told of, 0 where all meet
	in   int     // the pipe that it is in
	lag  float64 // s
	cold float64 // s until it tells anything
	dies float64 // s after which it tells nothing
	leak float64 // air that leaks in before it, by the share of the exhaust's
	deaf bool    // it is to be said that it does not answer
}

// lambda is that of a cylinder's exhaust, or of all.
func (r *stumbling) lambdaOf(cylinder int) float64 {
	sum, n := 0.0, 0.0
	for i, c := range r.carbs {
		if cylinder == 0 || cylinder == i+1 {
			sum, n = sum+max(c.jet+c.flow*c.opening(r.moved[i]), 0.1), n+1
		}
	}
	return n / sum
}

// trimToProbe trims a lopsided four to a lambda by a probe.
func trimToProbe(seed uint64, f *faultyProbe, target float64) *stumbling {
	r := newStumbling(seed, TrimConfig{Target: target, LambdaOf: f.of})
	r.synthetic = newLopsided(seed, []float64{2, 2, 2, 2})
	shown, last := math.NaN(), 0.0
	lambda := func() float64 {
		is := r.lambdaOf(f.in) * (1 + f.leak)
		if math.IsNaN(shown) {
			shown = is
		}
		shown += (1 - math.Exp(-(r.now-last)/f.lag)) * (is - shown)
		last = r.now
		if r.now < f.cold || f.dies > 0 && r.now > f.dies {
			return math.NaN()
		}
		return shown + probeNoise*r.rng.NormFloat64()
	}
	r.run(1500, func() bool { return r.st.Step == StepAllSet }, none, lambda)
	return r
}

// Whatever is wrong with a probe, what is told of it is that of the pipe that is named, and a probe that is in another
// pipe, or behind a large leak, is told to be.
func TestProbesThatAreNotAsTold(t *testing.T) {
	const target, off = 0.88, 0.03
	for _, f := range []faultyProbe{{name: "sound", of: 2, in: 2, lag: 0.2}, {name: "sound, of all", lag: 0.2},
		{name: "slow", of: 2, in: 2, lag: 1}, {name: "slow, of all", lag: 1},
		{name: "cold", of: 2, in: 2, lag: 0.2, cold: 60}, {name: "cold, of all", lag: 0.2, cold: 60},
		{name: "dies", of: 2, in: 2, lag: 0.2, dies: 60},
		{name: "in another pipe", of: 2, in: 3, lag: 0.2, deaf: true},
		{name: "in one pipe, not where all meet", in: 3, lag: 0.2, deaf: true},
		{name: "where all meet, not in one", of: 2, lag: 0.2, deaf: true},
		{name: "a leak", of: 2, in: 2, lag: 0.2, leak: 0.2}, {name: "a leak, of all", lag: 0.2, leak: 0.2}} {
		t.Run(f.name, func(t *testing.T) {
			for seed := range uint64(effort.Of(1, 8)) {
				r := trimToProbe(seed, &f, target)
				deaf, s := false, &r.st
				for i := range 4 {
					p, is := &s.Pilots[i], r.lambdaOf(f.of)
					deaf = deaf || p.ProbeDeaf
					if f.of > 0 && f.of != i+1 && !math.IsNaN(p.Lambda) || f.leak == 0 && math.Abs(p.Lambda-is) > off ||
						f.deaf && (p.Found == AtTarget || p.Found == OffAim) {
						t.Errorf("seed %d: is %.3f: %+v", seed, is, p)
					}
				}
				if s.Step != StepAllSet || deaf != f.deaf && (f.leak == 0 || f.of == 0) {
					t.Errorf("seed %d: %s, deaf %v", seed, s.Step, deaf)
				}
				if f.leak == 0 && s.LeanPeak > 0 || f.leak > 0 && f.of == 0 && s.LeanPeak == 0 {
					t.Errorf("seed %d: highest at lambda %.3f", seed, s.LeanPeak)
				}
			}
		})
	}
}
