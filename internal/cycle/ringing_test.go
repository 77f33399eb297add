package cycle_test

import (
	"fmt"
	"slices"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// Hoses whose air swings have refills that may look like those behind jets: none of four like ones is told as
// restricted or as perhaps a jet. By the refill alone each of these had one that was.
func TestRingingMakesNoJet(t *testing.T) {
	for _, seed := range effort.Of([]uint64{2}, []uint64{1, 2, 3, 4, 5}) {
		t.Run("", func(t *testing.T) {
			t.Parallel()
			e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Lumpy: seed%2 == 0, Uneven: 3}
			for i := range 4 {
				k := 1 + 0.03*float64(i-2)
				e.Hoses = append(e.Hoses, engine.Hose{LagS: 3e-3 * k, RingHz: 36 / k, RingDamping: 0.4})
			}
			var told [cycle.MaxCylinders]int
			for _, s := range record(t, e, 24, nil).follow() {
				for c := range s.N {
					jet := s.Hose[c] == cycle.JetHose || s.Hose[c] == cycle.PerhapsJet
					if s.Cycle && (jet || s.State[c] != cycle.OK) {
						told[c]++
					}
				}
			}
			if told != [len(told)]int{} {
				t.Errorf("seed %d: told in %v cycles", seed, told)
			}
		})
	}
}

// Dips of hoses whose air swings may look flat, with a hump in their middle: no end of a sensor's range.
func TestRingingMakesNoFloor(t *testing.T) {
	rows := []struct {
		lag, hz, damping float64
		seed             uint64
	}{
		{13e-3, 42, 0.13, 1}, // 143 cycles were told of one hose while the shape of single dips was enough
		{4e-3, 55, 0.25, 2}, {25e-3, 35, 0.13, 1}, {13e-3, 48, 0.35, 2}, {4e-3, 62, 0.35, 1},
	}
	for _, c := range effort.Of(rows[:1], rows) {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			t.Parallel()
			e := engine.Config{Bank: bank.Default(4), Seed: c.seed, Running: true, Lumpy: c.seed%2 == 0, Uneven: 3}
			for i := range 4 {
				k := 1 + 0.03*float64(i-2)
				e.Hoses = append(e.Hoses, engine.Hose{LagS: c.lag * k, RingHz: c.hz / k, RingDamping: c.damping})
			}
			for _, s := range record(t, e, effort.Of(8.0, 20), nil).follow() {
				if slices.Contains(s.State[:s.N], cycle.CutOff) {
					t.Fatalf("cut off at %.2f s: %v", s.Start, s.State[:s.N])
				}
			}
		})
	}
}
