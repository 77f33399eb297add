package cycle_test

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// Sensors whose zeros have drifted since their pass, by a tenth or a third of a kPa, some up and some down, make no
// sound cylinder seem not to fire, also at a slow idle.
func TestDriftedZerosMakeNoDeadCylinder(t *testing.T) {
	t.Parallel()
	engines, told := 0, 0
	for _, rpm := range effort.Of([]float64{700}, []float64{700, 850, 1050}) {
		for seed := uint64(1); seed <= effort.Of[uint64](3, 15); seed++ {
			e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true, IdleRPM: rpm,
				Lumpy: seed%4 == 3}
			r, drift := record(t, e, 16, nil), 0
			for _, counts := range effort.Of([]int{1}, []int{1, 3}) { // one engine for all
				r.driftZeros(seed, counts-drift)
				drift = counts
				engines++
				if unburnt, _, cycles := countMisfires(r, r.follow()); unburnt[0]+unburnt[1]+unburnt[2]+unburnt[3] > 2 {
					told++
					t.Errorf("%.0f rpm, seed %d: %v told in %d cycles", rpm, seed, unburnt[:4], cycles)
				}
			}
		}
	}
	t.Logf("%d of %d engines", told, engines)
}

// driftZeros moves the zeros of a four's sensors by so many counts of the converter, up or down as the seed's bits say.
func (r *recording) driftZeros(seed uint64, counts int) {
	const kpaPerCount = 1 / 1024. / 0.009 // of the common sensor
	for i := range r.samples {
		for c := range 4 {
			up := int(seed>>c)&1*2 - 1
			r.samples[i].Absolute[c] += pressure.KPa(float64(up*counts) * kpaPerCount)
		}
	}
}
