package cycle_test

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// Butterflies that stand apart make pushes weak and strong, and no cylinder is told not to fire for that. The seeds are
// those of eighty fours, uneven by 6 to 12 kPa, in which one once was, and of 36 such triples.
func TestUnevenIsNotDead(t *testing.T) {
	t.Parallel()
	for _, seed := range effort.Of([]uint64{57, 226}, []uint64{11, 30, 53, 57, 59, 65, 76, 119, 226}) {
		n := 4
		if seed > 80 {
			n = 3 // of 36 triples
		}
		e := engine.Config{Bank: bank.Default(n), Seed: seed, Running: true, NoSensorErrors: true, Lumpy: seed%4 == 3}
		e.Uneven = 6 + 1.5*pressure.KPa(seed%5)
		r := recordWith(t, e, 16, nil, nil)
		told, _, cycles := countMisfires(r, r.follow())
		t.Logf("seed %d: %v told in %d cycles", seed, told[:4], cycles)
		if told != [8]int{} {
			t.Errorf("seed %d: %v told in %d cycles", seed, told[:4], cycles)
		}
	}
}
