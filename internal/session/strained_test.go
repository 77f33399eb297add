package session_test

import (
	"fmt"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// An engine one of whose cylinders never fires, its throttle stop screwed in until the others carry the idle, draws so
// little that all is level: a bank that reads so is in doubt, whether the cylinder is named or not, at whatever angles
// it fires. A sound idle is not, slow or quick, at sea level or in thin air.
func TestLittleDrawIsInDoubt(t *testing.T) {
	t.Parallel()
	even4, even3, even2 := bank.Default(4), bank.Default(3), bank.Default(2)
	t180, uneven4 := bank.Default(2), bank.Default(4)
	t180.FiringAngles = []float64{0, 180}
	uneven4.FiringOrder, uneven4.FiringAngles = []int{1, 3, 2, 4}, []float64{0, 270, 450, 540}
	for row, c := range []struct {
		bank    bank.Bank
		rpm     float64
		ambient pressure.KPa
		dead    bool
	}{
		{even3, 2000, 0, true}, {t180, 1050, 0, false}, {even4, 700, 75, false}, {t180, 2300, 0, true},
		{even4, 1700, 0, true}, {uneven4, 1700, 0, true}, {even2, 2000, 0, true}, {even3, 1700, 75, true},
		{even4, 1050, 0, false}, {even4, 1400, 0, false}, {even3, 1050, 60, false}, {even2, 1400, 75, false},
		{uneven4, 1050, 0, false},
	} {
		t.Run(fmt.Sprint(row, " ", c.bank.Cylinders, " ", c.rpm, " ", c.ambient, " ", c.dead), func(t *testing.T) {
			t.Parallel()
			effort.Some(t, row, 4)
			for _, seed := range effort.Of([]uint64{1}, []uint64{1, 2, 3, 4}) {
				e := engine.Config{Bank: c.bank, Seed: seed, Running: true, NoSensorErrors: true, IdleRPM: c.rpm,
					Ambient: c.ambient, Lumpy: seed%2 == 0, Defects: make([]engine.Defect, c.bank.Cylinders)}
				if c.dead {
					e.Defects[1].Misfire = 1
				}
				var last balance.Reading
				summed(e, 14, nil, func(r *balance.Reading) { last = *r })
				if last.Halts.LowDraw != c.dead || last.Halts.Doubt() != c.dead {
					t.Errorf("seed %d: %+v at %.0f rpm, draws %.1f and %.1f kPa", seed, last.Halts, last.RPM,
						last.Cylinders[0].Draw, last.Cylinders[1].Draw)
				}
			}
		})
	}
}
