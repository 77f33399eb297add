package cycle_test

import (
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
