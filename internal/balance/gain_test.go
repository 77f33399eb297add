package balance

import (
	"math"
	"testing"

	"evendraw/internal/pressure"
)

// What a bank that reads level may be out by is told of all its sensors: on banks whose true draws stand apart by what
// sensors with such gains hide, it holds 19 times in 20. The figure of two sensors holds four 16 times in 20.
func TestALevelBankMayBeOutByTheGainsOfAll(t *testing.T) {
	const band, banks, quantile95 = 0.015, 4000, 1.96
	for n := 2; n <= 4; n++ {
		b := newBench(n, uint64(n))
		for c := range b.draw {
			b.draw[c] = 25
		}
		cfg := Config{Bank: b.bank, Ambient: 101.3}
		for c := range n {
			cfg.GainBand[c] = band
		}
		r := b.run(New(cfg), 40, false)
		held, heldByTwo := 0, 0
		two := math.Sqrt2 * band * 25
		for range banks {
			low, high := math.Inf(1), math.Inf(-1)
			for range n { // what the draw is that such a sensor reads as 25
				draw := 25 / (1 + band/quantile95*b.rng.NormFloat64())
				low, high = min(low, draw), max(high, draw)
			}
			if pressure.KPa(high-low) <= r.GainUncertainty {
				held++
			}
			if high-low <= two {
				heldByTwo++
			}
		}
		share, byTwo := float64(held)/banks, float64(heldByTwo)/banks
		t.Logf("%d cylinders: %.2f kPa, held in %.3f; by the figure of two %.3f", n, float64(r.GainUncertainty), share,
			byTwo)
		if share < 0.94 || share > 0.96 || r.SpreadUncertainty < r.GainUncertainty {
			t.Errorf("%d cylinders: %.2f kPa, %.2f with the rest, held in %.3f", n, float64(r.GainUncertainty),
				float64(r.SpreadUncertainty), share)
		}
		if n == 4 && byTwo > 0.85 {
			t.Errorf("the figure of two is held in %.3f: this proves nothing", byTwo)
		}
	}
}
