package cycle_test

import (
	"fmt"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// Two hoses are exchanged, pulled off with the engine running and put right three seconds later: what was learned of
// the cylinders while they were exchanged is forgotten, and no sound one is told to misfire.
func TestHosesPutRightMakeNoMisfires(t *testing.T) {
	t.Parallel()
	const off, on = 8.0, 11.0 // s
	tee := bank.Default(3)
	tee.FiringAngles = []float64{0, 180, 450}
	for row, b := range []bank.Bank{tee, bank.Default(4), bank.Default(3)} {
		for _, pair := range [][2]int{{0, 2}, {0, 1}, {1, 2}} {
			t.Run(fmt.Sprint(row, " ", pair), func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row+pair[0], 2)
				for _, seed := range effort.Of([]uint64{1}, []uint64{1, 2, 3}) {
					r := record(t, engine.Config{Bank: b, Seed: seed, Running: true, NoSensorErrors: true}, 25, nil)
					for i := range r.samples {
						k := &r.samples[i].Absolute
						switch time := r.samples[i].Time; {
						case time < off:
							k[pair[0]], k[pair[1]] = k[pair[1]], k[pair[0]]
						case time < on:
							k[pair[0]], k[pair[1]] = pressure.KPa(r.ambient), pressure.KPa(r.ambient)
						}
					}
					told, cycles := 0, 0
					for _, s := range r.follow() {
						if s.Cycle {
							cycles++
						}
						for c := range s.N {
							if s.Misfire[c] {
								told++
							}
						}
					}
					if told > 1 || cycles < 150 {
						t.Errorf("seed %d: %d told in %d cycles", seed, told, cycles)
					}
				}
			})
		}
	}
}
