package cycle

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// ended pushes a record through a Tracker and tells that it has ended.
func ended(samples []sensor.Sample, channels int) (live, end []Span) {
	cfg := Config{Ambient: 101.3}
	for c := range channels {
		cfg.Channels = append(cfg.Channels, c)
	}
	tr := NewTracker(cfg)
	for i := range samples {
		if s, ok := tr.Push(&samples[i]); ok {
			live = append(live, *s)
		}
	}
	return live, tr.Finish()
}

// A record of half a second of whole cycles holds as many as there is room for, each of the right length, none half or
// double; live tells none of it.
func TestShortRecords(t *testing.T) {
	for _, seconds := range []float64{0.5, 0.7, 1, 1.4} {
		t.Run(fmt.Sprint(seconds), func(t *testing.T) {
			t.Parallel()
			records, none, told, live, worst := 0, 0, 0, 0, 0.0
			for row, change := range []changes{nil, {lumpy}, {hoses}, {firing(0, 180)}, {firing(0, 270)},
				{firing(0, 240, 480)}, {misfiring}, {at(1050, 250)}, {firing(0)}} {
				for seed := range effort.Of[uint64](2, 12) {
					s := newSynth(4)
					for _, c := range change {
						c(s)
					}
					s.runner, s.rng = nozzles, rand.New(rand.NewPCG(4, seed))
					var samples []sensor.Sample
					from := 2 + s.rng.Float64()
					tr := s.run(from+seconds, func(x *sensor.Sample) {
						if x.Time >= from {
							samples = append(samples, *x)
						}
					})
					samples[0].Break = true
					before, spans := ended(samples, len(s.angles))
					records++
					for i := range before {
						if before[i].Cycle {
							live++
						}
					}
					if told += len(spans); spans == nil {
						none++
						continue
					}
					for i := range spans {
						x := &spans[i]
						_, period := tr.mean(0, x.Start)
						worst = max(worst, math.Abs(x.Period/period-1))
						if i > 0 && math.Abs(x.Start-spans[i-1].End()) > 0.04*x.Period { // a lag is known anew
							t.Errorf("a span begins at %.4f s, the one before ends at %.4f", x.Start, spans[i-1].End())
						}
					}
					// One less where a misfire has the boundary lie elsewhere.
					if room := int(seconds*s.rpm(3)/rpmSeconds - 1.3); len(spans) < room-1 {
						t.Errorf("row %d, seed %d: %d cycles, want %d", row, seed, len(spans), room)
					}
				}
			}
			t.Logf("%d records, %d without a cycle: %d cycles, live %d; the speed is off by %.2f %% at most", records,
				none, told, live, 100*worst)
			if worst > 0.02 || none*100 > records {
				t.Errorf("a cycle is off by %.1f %%, %d records without", 100*worst, none)
			}
		})
	}
}

// Of short records in which nothing repeats next to none has a cycle.
func TestShortRecordsOfNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	records := effort.Of(40, 1000)
	for _, c := range []struct {
		name string
		most float64 // share of the records
		kpa  func() func(t float64) float64
	}{
		{"noise", 0, func() func(t float64) float64 {
			return func(float64) float64 { return 60 + 5*rng.NormFloat64() }
		}},
		{"drift", 0.01, func() func(t float64) float64 {
			v := 60.0
			return func(float64) float64 { v += 0.2 * rng.NormFloat64(); return v }
		}},
		{"steps", 0.01, func() func(t float64) float64 {
			v, next := 60.0, 0.0
			return func(t float64) float64 {
				if t >= next {
					next, v = t+0.1*rng.ExpFloat64(), 60+10*rng.NormFloat64()
				}
				return v
			}
		}},
		{"uneven pulses", 0.05, func() func(t float64) float64 {
			last, next := -1.0, 0.1*rng.Float64()
			return func(t float64) float64 {
				if t >= next {
					last, next = t, t+0.06+0.18*rng.Float64()
				}
				return 90 - 30*math.Pow(math.Sin(min(1, (t-last)/0.05)*math.Pi), 2)
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			told := 0
			for range records {
				f := c.kpa()
				var samples []sensor.Sample
				for i := range 500 {
					s := sensor.Sample{Time: float64(i) / 1000, N: 1, Break: i == 0}
					s.Absolute[0] = pressure.KPa(f(s.Time) + 0.05*rng.NormFloat64())
					samples = append(samples, s)
				}
				if _, cycles := ended(samples, 1); cycles != nil {
					told++
				}
			}
			t.Logf("%d of %d records have cycles", told, records)
			if float64(told) > c.most*float64(records)+1 {
				t.Errorf("%d of %d", told, records)
			}
		})
	}
}
