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

// Pulses at uneven times, 0.2 to 0.8 s apart, are no cycles, whatever the slowest speed that is looked for. By chance
// some come evenly: 0 to 5 cycles in a minute of 80 to 120 pulses (measured), where one engine in twenty had 9.
func TestNoRhythm(t *testing.T) {
	const most = 5
	for _, minRPM := range []float64{0, 200, 120, 60} {
		t.Run(fmt.Sprint(minRPM), func(t *testing.T) {
			if minRPM > 60 {
				effort.ForWhole(t, "other speeds")
			}
			for seed := range effort.Of[uint64](2, 5) {
				rng := rand.New(rand.NewPCG(seed+1, 2))
				last, next := -1.0, 0.0
				n := countCycles(Config{MinRPM: minRPM}, 250, effort.Of(15., 60.), func(t float64) float64 {
					if t >= next {
						last, next = t, t+0.2+0.6*rng.Float64()
					}
					return 90 - 30*math.Pow(math.Sin(min(1, (t-last)/0.1)*math.Pi), 2)
				})
				t.Logf("seed %d: %d", seed, n)
				if n > effort.Of(2, most) {
					t.Errorf("%d cycles", n)
				}
			}
		})
	}
}
