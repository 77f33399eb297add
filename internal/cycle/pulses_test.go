package cycle

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// pulsate feeds rows of an invented pulsation to a Tracker: the pressure by phase in
// cycles and time, the frequency by time.
func pulsate(cfg Config, rate, seconds float64, channels int, hz func(t float64) float64,
	p func(x, t float64, c int) float64) (spans []Span) {
	for c := range channels {
		cfg.Channels = append(cfg.Channels, c)
	}
	tracker := NewTracker(cfg)
	random := rand.New(rand.NewPCG(5, 6))
	phase := 0.0
	for k := 0; float64(k) < rate*seconds; k++ {
		t := float64(k) / rate
		s := sensor.Sample{Time: t, N: channels, Break: k == 0}
		for c := range channels {
			s.Absolute[c] = pressure.KPa(p(phase, t, c) + 0.05*random.NormFloat64())
		}
		phase += hz(t) / rate
		if span, ok := tracker.Push(&s); ok {
			spans = append(spans, *span)
		}
	}
	return spans
}

// beat is a pulse like an artery's: a steep rise, a slow fall, a notch.
func beat(x, t float64, c int) float64 {
	x -= math.Floor(x)
	return 12 + 5*math.Exp(-math.Pow((x-0.2)/0.08, 2)) + 2*math.Exp(-math.Pow((x-0.5)/0.1, 2))
}

func sine(x, t float64, c int) float64 { return 50 + 3*math.Sin(2*math.Pi*(x+0.2*float64(c))) }

// Pulsations from 1 to 30 Hz at 100 to 5000 rows a second, on one or two channels,
// have their own rate. At 3.3 rows a cycle the rows look like a pulsation three times as
// slow: no cycle is reported.
func TestOtherPulsations(t *testing.T) {
	for _, rate := range []float64{100, 250, 1000, 5000} {
		for _, hz := range []float64{1, 1.3, 3, 10, 30} {
			for _, channels := range []int{1, 2} {
				for name, p := range map[string]func(x, t float64, c int) float64{"beat": beat, "sine": sine} {
					if rate/hz < 8 && name == "beat" {
						continue
					}
					t.Run(fmt.Sprintf("%s %v rows a second %v Hz %d channels", name, rate, hz, channels),
						func(t *testing.T) {
							t.Parallel()
							holdPulsation(t, rate, hz, channels, p)
						})
				}
			}
		}
	}
}

// holdPulsation holds the cycles of a pulsation to its rate.
func holdPulsation(t *testing.T, rate, hz float64, channels int, p func(x, t float64, c int) float64) {
	t.Helper()
	seconds := max(10, 12/hz)
	spans := pulsate(Config{MinRPM: 100}, rate, seconds, channels, func(float64) float64 { return hz }, p)
	n, sum, worst, first := 0, 0.0, 0.0, math.NaN()
	for _, s := range spans {
		if s.Cycle {
			if n == 0 {
				first = s.Start
			}
			n++
			sum += s.Period
			worst = max(worst, math.Abs(s.Period*hz-1))
		}
	}
	mean := sum / float64(n) * hz
	limit := 0.025
	if rate/hz < 12 {
		limit = 0.04
	}
	if rate/hz < MinCycleSamples {
		if n > 0 {
			t.Errorf("%v rows a cycle: %d cycles, mean period off by %.3f", rate/hz, n, mean-1)
		}
		return
	}
	if !(math.Abs(mean-1) < 0.003) || worst > limit || float64(n) < 0.5*seconds*hz {
		t.Errorf("%d cycles from %.2f s, mean period off by %.4f, worst %.3f", n, first, mean-1, worst)
	}
}

// Where nothing repeats there is no cycle: noise, a slow drift, steps at random.
func TestIrregular(t *testing.T) {
	var random *rand.Rand
	walk, level, next := 0.0, 0.0, 0.0
	none := map[string]func(x, t float64, c int) float64{
		"still": func(x, t float64, c int) float64 { return 60 },
		"noise": func(x, t float64, c int) float64 { return 60 + 5*random.NormFloat64() },
		"drift": func(x, t float64, c int) float64 { walk += 0.2 * random.NormFloat64(); return 60 + walk },
		"ramp":  func(x, t float64, c int) float64 { return 60 + 2*t },
		"steps": func(x, t float64, c int) float64 {
			if t >= next {
				next, level = t+random.ExpFloat64()*0.3, 10*random.NormFloat64()
			}
			return 60 + level
		},
	}
	for name, p := range none {
		t.Run(name, func(t *testing.T) { // not in parallel: they share random numbers
			random = rand.New(rand.NewPCG(8, 9))
			cycles, all := 0.0, 0.0
			for _, s := range pulsate(Config{MinRPM: 100}, 500, 30, 1, func(float64) float64 { return 1 }, p) {
				all += s.Period
				if s.Cycle {
					cycles += s.Period
				}
			}
			t.Logf("%.1f %% in cycles", 100*cycles/all)
			if cycles > 0.03*all {
				t.Errorf("%.1f %% in cycles", 100*cycles/all)
			}
		})
	}
}

// A beat whose rate scatters by 5 % is followed.
func TestIrregularBeat(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 9))
	beats := 0
	hz, last := 1.2, 0.0
	spans := pulsate(Config{MinRPM: 40}, 500, 40, 1, func(t float64) float64 {
		if n := math.Floor(t * 1.2); n != last {
			last, hz = n, 1.2*(1+0.05*random.NormFloat64())
		}
		return hz
	}, beat)
	for _, s := range spans {
		if s.Cycle {
			beats++
			if math.Abs(s.Period*1.2-1) > 0.25 {
				t.Errorf("a beat of %.2f s at %.1f s", s.Period, s.Start)
			}
		}
	}
	if beats < 36 {
		t.Errorf("%d beats followed of 48", beats)
	}
}
