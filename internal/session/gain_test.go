package session

import (
	"math"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// The interval of a difference holds what sensors that were never matched are off by. Without that part it held
// the truth in 1 of 9 such differences.
func TestTheIntervalHoldsUnmatchedSensors(t *testing.T) {
	t.Parallel()
	held, narrow, all := 0, 0, 0
	for seed := uint64(1); seed <= uint64(effort.Of(1, 3)); seed++ {
		r := newRigged(t, engine.Config{Bank: bank.Default(4), Seed: seed, Alike: true})
		r.zero()
		r.e.Start()
		r.feed(8)
		var truth [bank.MaxCylinders]float64
		n := 0.0
		r.e.OnCycle(func(c engine.Cycle) {
			for i := range c.Cylinders {
				truth[i] += float64(c.Draw[i] - c.Draw[0])
			}
			n++
		})
		r.feed(6)
		ref := r.last.Cylinders[0]
		for i, c := range r.last.Cylinders[1:] {
			off, u := math.Abs(float64(c.Difference)-truth[i+1]/n), float64(c.Uncertainty)
			gains := math.Hypot(float64(c.GainUncertainty), float64(ref.GainUncertainty))
			all++
			if off <= u {
				held++
			}
			if off*off <= u*u-gains*gains {
				narrow++
			}
		}
	}
	t.Logf("%d of %d held, %d without the gains", held, all, narrow)
	if held < all || narrow > all/2 {
		t.Errorf("%d of %d held, %d without the gains: the sensors prove nothing, or are left out", held, all, narrow)
	}
}
