package cycle_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// Butterflies that stand apart make pushes weak and strong: no cylinder is told not to fire for that, and each hose is
// plain. The seeds are those of eighty fours, uneven by 6 to 12 kPa, in which one once was told, and of 36 triples;
// a twin by 10 kPa.
func TestUnevenIsNotDead(t *testing.T) {
	t.Parallel()
	for _, seed := range effort.Of([]uint64{57, 226}, []uint64{11, 30, 53, 57, 59, 65, 76, 119, 226, 2}) {
		n := 4
		switch {
		case seed > 80:
			n = 3 // of 36 triples
		case seed == 2:
			n = 2
		}
		e := engine.Config{Bank: bank.Default(n), Seed: seed, Running: true, NoSensorErrors: true, Lumpy: seed%4 == 3}
		if e.Uneven = 6 + 1.5*pressure.KPa(seed%5); n == 2 {
			e.Uneven = 10
		}
		r := record(t, e, 16, nil)
		spans := r.follow()
		onlyPlainHoses(t, spans)
		told, _, cycles := countMisfires(r, spans)
		t.Logf("seed %d: %v told in %d cycles", seed, told[:4], cycles)
		if told != [8]int{} {
			t.Errorf("seed %d: %v told in %d cycles", seed, told[:4], cycles)
		}
	}
}

// Nor are those whose hoses are long, 5 to 60 ms and alike within a tenth, or ring at 25 to 85 Hz: pulses of
// unlike draws then have unlike shapes, and come early or late by several ms in every cycle.
func TestLongHosesAreNoDeadCylinder(t *testing.T) {
	t.Parallel()
	seeds := []uint64{10, 65} // two of the seven of a hundred that were told
	if effort.Whole() {
		seeds = seeds[:0]
		for seed := range uint64(50) { // a fault of seven in a hundred would show in 97 of 100 such runs
			seeds = append(seeds, seed)
		}
		seeds = append(seeds, 65)
	}
	told := 0
	for _, seed := range seeds {
		random := rand.New(rand.NewPCG(seed, 7))
		lag, ring, damping := 5e-3*math.Pow(12, random.Float64()), 0.0, 0.15+0.35*random.Float64()
		if seed%2 > 0 {
			ring = 25 + 60*random.Float64()
		}
		hoses := make([]engine.Hose, 4)
		for i := range hoses {
			hoses[i] = engine.Hose{LagS: lag * (0.9 + 0.2*random.Float64()), RingDamping: damping}
			if ring > 0 {
				hoses[i].RingHz = ring * (0.95 + 0.1*random.Float64())
			}
		}
		e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true, Lumpy: seed%3 == 0,
			Uneven: 3 + 2*pressure.KPa(seed%4), Hoses: hoses}
		r := record(t, e, effort.Of(16., 24.), nil)
		if n, _, cycles := countMisfires(r, r.follow()); n[0]+n[1]+n[2]+n[3] > 1 { // measured: a single one in 20,000
			told++
			t.Errorf("seed %d, %.1f ms, %.0f Hz: %v told in %d cycles", seed, lag*1e3, ring, n[:4], cycles)
		}
	}
	t.Logf("%d of %d engines", told, len(seeds))
}
