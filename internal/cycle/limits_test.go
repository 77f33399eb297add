package cycle

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/sensor"
)

// result is how far a recording's spans are off the truth.
type result struct {
	difference float64 // kPa rms, of two cylinders, single cycles, all pairs
	placed     float64 // the same from where a cycle truly starts: see late
	bias       float64 // kPa, the worst cylinder's
	speed      float64 // percent rms
	cycles     int
	missing    float64 // seconds after the first cycle not in a cycle
}

func judge(spans []Span, tr *truth, n int) (r result) {
	var dd, pp, ss float64
	var sum [MaxCylinders]float64
	pairs := 0
	end, last := math.NaN(), tr.time[len(tr.time)-1]
	for i := range spans {
		span := &spans[i]
		if !span.Cycle || span.End() > last-0.5 {
			if span.End() <= last-0.5 && end == end {
				r.missing += span.Period
			}
			continue
		}
		end = span.End()
		r.cycles++
		var off, own [MaxCylinders]float64
		late := tr.late(span)
		for c := range n {
			m, period := tr.mean(c, span.Start)
			off[c] = float64(span.Mean[c]) - m
			sum[c] += off[c]
			m, _ = tr.mean(c, span.Start-late)
			own[c] = float64(span.Mean[c]) - m
			if c == 0 {
				ss += math.Pow(span.Period/period-1, 2)
			}
			for o := range c {
				dd += math.Pow(off[c]-off[o], 2)
				pp += math.Pow(own[c]-own[o], 2)
				pairs++
			}
		}
	}
	for c := range n {
		r.bias = max(r.bias, math.Abs(sum[c])/float64(r.cycles))
	}
	r.difference = math.Sqrt(dd / float64(pairs))
	r.placed = math.Sqrt(pp / float64(pairs))
	r.speed = 100 * math.Sqrt(ss/float64(r.cycles))
	return r
}

// late is by how much a span starts late: the part of the mean lag of all hoses that is not
// known. It moves the start on the crank, but changes no reading, as that is compared with the
// truth of the same time.
func (tr *truth) late(s *Span) (by float64) {
	for c, lag := range tr.lag {
		if by += lag / float64(len(tr.lag)); s.Lag[c] == s.Lag[c] {
			by -= s.Lag[c] / float64(len(tr.lag))
		}
	}
	return by
}

// runners are the three physics.
var runners = []struct {
	name string
	run  runner
}{{"formula", formula}, {"refill", nozzles}, {"waves", waves}}

func idle(s *synth) {}

func lumpy(s *synth) { s.scatter, s.wander = 0.15, 40 }

func swaying(s *synth) {
	s.scatter = 0.15
	s.rpm = func(t float64) float64 { return 1050 + 80*math.Sin(2*t) }
}

func misfiring(s *synth) { s.misfire = 0.125 }

func spikes(s *synth) { s.spike = 15.6 }

func hoses(s *synth) {
	for c := range s.lag {
		s.lag[c] = []float64{0.002, 0.006, 0.003, 0.005}[c]
	}
}

func at(rpm, rate float64) func(*synth) {
	return func(s *synth) { s.rate, s.rpm = rate, func(float64) float64 { return rpm } }
}

// changes are what is done to a synth; three are figures by physics.
type (
	changes []func(*synth)
	three   [3]float64
)

// limit is what a recording is held to: the difference of two cylinders in single
// cycles, kPa rms, by physics, and the speed, percent rms.
type limit struct {
	name   string
	change changes
	kpa    three
	speed  three
	placed three // as kpa, from where the cycle truly starts; 0 is kpa
}

// Demanded: difference 0.015 clean, 0.025 lumpy and with misfires, 0.05 under
// spikes, 0.03 at 250 samples a second and 750 rpm; bias 0.01; speed 0.05 % clean,
// 0.1 % lumpy. Where a figure in the table is larger, it is what is reached, and the demand is
// missed. On the refill physics that is due to the first seconds, in which the lags are learned
// (TestLimitsLater). On the other two the refill is no nozzle's, and no lag is known: where
// lags differ by 1 ms, a cycle that ends at another pressure than it began at is 0.05 to 0.1 kPa
// off. Such errors do not add up: the next cycle has them with the other sign.
var limits = []limit{
	{"clean", changes{idle}, three{0.015, 0.015, 0.015}, three{0.05, 0.05, 0.05}, three{}},
	{"clean hoses", changes{hoses}, three{0.015, 0.015, 0.015}, three{0.05, 0.05, 0.05}, three{}},
	{"lumpy", changes{lumpy}, three{0.025, 0.07, 0.025}, three{0.06, 0.06, 0.08}, three{0.02, 0.02, 0.02}},
	{"lumpy hoses", changes{lumpy, hoses}, three{0.11, 0.032, 0.035}, three{0.06, 0.06, 0.06},
		three{0.06, 0.027, 0.025}},
	{"swaying", changes{swaying}, three{0.025, 0.07, 0.025}, three{0.09, 0.05, 0.08}, three{0.02, 0.02, 0.02}},
	{"misfires", changes{misfiring}, three{0.025, 0.05, 0.025}, three{0.07, 0.1, 0.06}, three{0.02, 0.03, 0.02}},
	{"spikes", changes{spikes}, three{0.02, 0.02, 0.03}, three{0.05, 0.05, 0.05}, three{}},
	{"spikes hoses", changes{spikes, hoses}, three{0.02, 0.02, 0.02}, three{0.05, 0.05, 0.05}, three{}},
	{"spikes 2000 rpm", changes{at(2000, 1000), spikes, hoses}, three{0.13, 0.08, 0.18}, three{0.2, 0.3, 0.2}, three{}},
	{"spikes 250/s", changes{at(750, 250), spikes, hoses}, three{0.18, 0.18, 0.18}, three{0.12, 0.15, 0.1}, three{}},
	{"spikes 2000/s", changes{at(1050, 2000), spikes}, three{0.025, 0.025, 0.025}, three{0.05, 0.05, 0.05}, three{}},
	{"spikes 5000/s", changes{at(1050, 5000), spikes, hoses}, three{0.03, 0.03, 0.025}, three{0.05, 0.05, 0.05},
		three{}},
	{"250/s 750", changes{at(750, 250), hoses}, three{0.03, 0.03, 0.03}, three{0.05, 0.05, 0.05}, three{}},
	{"2000/s", changes{at(1050, 2000)}, three{0.012, 0.012, 0.012}, three{0.05, 0.05, 0.05}, three{}},
	{"600", changes{at(600, 1000)}, three{0.012, 0.012, 0.012}, three{0.05, 0.05, 0.05}, three{}},
	{"2000", changes{at(2000, 1000)}, three{0.02, 0.02, 0.02}, three{0.05, 0.05, 0.05}, three{}},
	{"5000", changes{at(5000, 1000)}, three{0.03, 0.03, 0.03}, three{0.05, 0.06, 0.05}, three{}},
}

const demandedBias = 0.01 // kPa

// After ten seconds, on four engines each, the lumpy idle and the misfires on the refill
// are within these limits, kPa and percent rms: demanded are 0.025 and 0.1. From where a
// cycle truly starts, 0.015 to 0.022 kPa are reached, 0.029 with misfires through hoses;
// from where the span starts, 0.021, 0.022 and 0.032 through hoses. The lag of a sensor alone is
// known within 0.4 ms and its spans start late by as much: 0.034 to 0.036 kPa are reached.
func TestLimitsLater(t *testing.T) {
	for row, c := range []struct {
		name        string
		change      changes
		kpa, placed float64
		speed       float64 // percent
	}{
		{"lumpy", changes{lumpy}, 0.04, 0.018, 0.04},
		{"lumpy hoses", changes{lumpy, hoses}, 0.025, 0.022, 0.04},
		{"swaying hoses", changes{swaying, hoses}, 0.025, 0.022, 0.04},
		{"misfires", changes{misfiring}, 0.04, 0.025, 0.09},
		{"misfires hoses", changes{misfiring, hoses}, 0.036, 0.033, 0.09},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			effort.Some(t, row, 2)
			const from = 10 // s
			seeds := effort.Of([]uint64{1}, []uint64{0, 1, 2, 3})
			square, placed, speed, engines := 0.0, 0.0, 0.0, float64(len(seeds))
			for _, seed := range seeds {
				s := newSynth(4)
				s.runner, s.rng = nozzles, rand.New(rand.NewPCG(7, seed))
				for _, change := range c.change {
					change(s)
				}
				spans, tr := track(s, effort.Of(20., 30.))
				for len(spans) > 0 && spans[0].Start < from {
					spans = spans[1:]
				}
				got := judge(spans, tr, 4)
				square += got.difference * got.difference / engines
				placed += got.placed * got.placed / engines
				speed += got.speed * got.speed / engines
			}
			rms, own, percent := math.Sqrt(square), math.Sqrt(placed), math.Sqrt(speed)
			t.Logf("difference %.4f kPa rms, placed %.4f, speed %.3f %%", rms, own, percent)
			if rms > c.kpa || own > c.placed || percent > c.speed {
				t.Errorf("want %.4f, %.4f kPa and %.3f %%", c.kpa, c.placed, c.speed)
			}
		})
	}
}

func TestLimits(t *testing.T) {
	for row, c := range limits {
		for _, i := range some(row, []int{0, 1, 2}) {
			r := runners[i]
			t.Run(c.name+" "+r.name, func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row, 2)
				s := newSynth(4)
				s.runner = r.run
				for _, change := range c.change {
					change(s)
				}
				if s.rate > 1000 {
					effort.ForWhole(t, "many samples")
				}
				spans, tr := track(s, 16)
				got := judge(spans, tr, 4)
				t.Logf("difference %.4f, placed %.4f, bias %.4f kPa, speed %.3f %%, %d cycles, %.2f s missing",
					got.difference, got.placed, got.bias, got.speed, got.cycles, got.missing)
				bias, placed := max(demandedBias, c.kpa[i]/8), c.placed[i]
				if placed == 0 {
					placed = c.kpa[i]
				}
				if got.placed > placed {
					t.Errorf("want %.4f kPa from the true start", placed)
				}
				if got.difference > c.kpa[i] || got.speed > c.speed[i] || got.bias > bias || got.missing > 0 {
					t.Errorf("want %.4f kPa, bias %.4f, %.3f %%", c.kpa[i], bias, c.speed[i])
				}
			})
		}
	}
}

// BenchmarkTracker is the whole stage, four cylinders at 1000 samples a second.
func BenchmarkTracker(b *testing.B) {
	var samples []sensor.Sample
	newSynth(4).run(20, func(s *sensor.Sample) { samples = append(samples, *s) })
	tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}, Ambient: 101.3})
	b.ReportAllocs()
	b.ResetTimer()
	i, base := 0, 0.0
	for range b.N {
		s := samples[i]
		s.Time += base
		s.Break = false
		tracker.Push(&s)
		if i++; i == len(samples) {
			base += samples[i-1].Time + 0.001
			i = 0
		}
	}
}
