package cycle_test

import (
	"math"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// The opening's ratios are those of the butterflies' areas. Demanded: within 1 % in
// 10 s at idle, at 75 kPa, with unequal hoses, under spikes; 3 % at 250 samples a
// second. Reached, worst of 18 ratios (the test looks at 12): 0.2 % at idle, 0.3 under spikes, 0.4 at 250
// samples a second, 0.9 at 75 kPa, where the butterflies stand wide open and little of
// the refill is left once the valve has shut. Runners are alike here, as an opening is an
// area over a runner's volume.
func TestOpening(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*engine.Config)
		spoil  func() spoiler
		worst  float64 // percent, of 12 ratios
		rms    float64
		whole  bool // in full runs alone
	}{
		{"idle", func(c *engine.Config) {}, nil, 0.3, 0.15, false},
		{"level", func(c *engine.Config) { c.Level = true }, nil, 0.3, 0.15, true},
		{"no lag", func(c *engine.Config) { c.NoLag = true }, nil, 0.3, 0.15, true},
		{"75 kPa", func(c *engine.Config) { c.Ambient = 75 }, nil, 1, 0.5, false},
		{"75 kPa, no lag", func(c *engine.Config) { c.Ambient, c.NoLag = 75, true }, nil, 0.5, 0.3, true},
		{"spikes", func(c *engine.Config) {}, func() spoiler { return sparks(10, 1000, 1050) }, 0.5, 0.3, false},
		{"250/s", func(c *engine.Config) { c.Rate = 250 }, nil, 0.6, 0.3, false},
		{"2000/s", func(c *engine.Config) { c.Rate = 2000 }, nil, 0.4, 0.2, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if c.whole {
				effort.ForWhole(t, "other conditions")
			}
			worst, square, n := 0.0, 0.0, 0.0
			for seed := range uint64(effort.Of(1, 4)) {
				config := idling(seed)
				c.change(&config)
				var spoil spoiler
				if c.spoil != nil {
					spoil = c.spoil()
				}
				for _, off := range openingsOff(t, record(t, config, 10, spoil)) {
					worst = max(worst, math.Abs(off))
					square += off * off
					n++
				}
			}
			rms := math.Sqrt(square / n)
			t.Logf("worst %.2f %%, rms %.2f %%", worst, rms)
			if worst > c.worst || rms > c.rms {
				t.Errorf("worst %.2f %%, rms %.2f, limits %v and %v", worst, rms, c.worst, c.rms)
			}
		})
	}
}

// openingsOff returns by how many per cent the openings' ratios to the first are off the truth.
func openingsOff(t *testing.T, r *recording) (off []float64) {
	var sum, count [4]float64
	for _, s := range r.follow() {
		for k := range 4 {
			if o := s.Opening[k]; o == o {
				sum[k] += o
				count[k]++
			}
		}
	}
	for k := 1; k < 4; k++ {
		got := sum[k] / count[k] / (sum[0] / count[0])
		off = append(off, 100*(got/r.truth.Cylinders[k].Opening-1))
		if !(count[k] > 35) {
			t.Errorf("cylinder %d has %v openings", k+1, count[k])
		}
	}
	return off
}
