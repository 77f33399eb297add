package cycle

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// countCycles returns how many cycles are told of a pressure on one channel.
func countCycles(cfg Config, rate, seconds float64, kpa func(t float64) float64) (n int) {
	cfg.Channels, cfg.Ambient = []int{0}, 101.3
	tr := NewTracker(cfg)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := 0; float64(i) < seconds*rate; i++ {
		s := sensor.Sample{Time: float64(i) / rate, N: 1, Break: i == 0}
		s.Absolute[0] = pressure.KPa(kpa(s.Time) + 0.05*rng.NormFloat64())
		if span, ok := tr.Push(&s); ok && span.Cycle {
			n++
		}
	}
	return n
}

// Pulses at uneven times are no cycles. (From 60 rpm on, 9 to 27 are told in a minute with some 120 pulses: a
// rhythm that holds for one long cycle is taken for one.)
func TestNoRhythm(t *testing.T) {
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed+1, 2))
		last, next := -1.0, 0.0
		n := countCycles(Config{}, 250, effort.Of(15., 60.), func(t float64) float64 {
			if t >= next {
				last, next = t, t+0.2+0.6*rng.Float64()
			}
			return 90 - 30*math.Pow(math.Sin(min(1, (t-last)/0.1)*math.Pi), 2)
		})
		if n > effort.Of(2, 4) { // 0, 4 and 0 in a minute (measured)
			t.Errorf("%d cycles", n)
		}
	}
}
