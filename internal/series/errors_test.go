package series

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// The largest minus the smallest of errors is within what is told 19 times in 20, of two to eight of them, as wide as
// each other or not; by the figure of two, of four errors it would be 16 times in 20.
func TestSpreadOfErrors(t *testing.T) {
	const draws, quantile95 = 40_000, 1.96
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		halves      []float64
		least, most float64 // share that is held
	}{
		{[]float64{1, 1}, 0.947, 0.953}, {[]float64{1, 1, 1}, 0.947, 0.953}, {[]float64{1, 1, 1, 1}, 0.947, 0.953},
		{[]float64{1, 1, 1, 1, 1}, 0.947, 0.953}, {[]float64{1, 1, 1, 1, 1, 1}, 0.947, 0.953},
		{[]float64{1, 1, 1, 1, 1, 1, 1}, 0.947, 0.953},
		{[]float64{1, 1, 1, 1, 1, 1, 1, 1}, 0.947, 0.953},
		{[]float64{2, 1, 1, 1}, 0.925, 0.96}, {[]float64{4, 1, 1, 1}, 0.922, 0.96},
		{[]float64{2, 2, 1, 1}, 0.925, 0.96},
		{[]float64{1, 0}, 0.947, 0.953}, {[]float64{1, 0, 0, 0}, 0.947, 0.953}, {[]float64{1, 1, 0, 0}, 0.925, 0.96},
		{[]float64{1, 1, 1, 0}, 0.925, 0.96},
	} {
		t.Run(fmt.Sprint(c.halves), func(t *testing.T) {
			most := SpreadOfErrors(c.halves)
			held := 0
			for range draws {
				low, high := 0.0, 0.0
				for i, h := range c.halves {
					e := h / quantile95 * rng.NormFloat64()
					if i == 0 {
						low, high = e, e
					}
					low, high = min(low, e), max(high, e)
				}
				if high-low <= most {
					held++
				}
			}
			if share := float64(held) / draws; share < c.least || share > c.most {
				t.Errorf("within %.3f in %.3f of all", most, share)
			}
		})
	}
	for _, few := range [][]float64{nil, {1}} {
		if v := SpreadOfErrors(few); v != 0 {
			t.Errorf("%v: %v", few, v)
		}
	}
}
