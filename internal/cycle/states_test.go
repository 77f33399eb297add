package cycle_test

import (
	"fmt"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// floorAt is a common absolute sensor whose output ends at a pressure.
func floorAt(kpa float64) engine.Transfer {
	t := engine.Transfer{Slope: 0.009, Intercept: -0.095}
	t.Least = t.Slope*kpa + t.Intercept
	return t
}

// A pulse that a sensor cuts off is told, with any ambient, behind any hose; a round dip never.
func TestCutOffDips(t *testing.T) {
	for row, c := range []struct {
		name    string
		ambient pressure.KPa
		floor   float64 // kPa absolute; 0 is none
		lag     float64
		cut     bool
	}{
		{"sea level", 101.3, 0, 0, false},
		{"sea level, long hoses", 101.3, 0, 0.03, false},
		{"sea level, short range", 101.3, 55, 0, true},
		{"60 kPa", 60, 36, 0, true},
		{"60 kPa, whole", 60, 0, 0, false},
		{"65 kPa, behind long hoses", 65, 45, 0.02, true},
		{"ten kPa below the air", 101.3, 91.3, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			effort.Some(t, row, 3)
			seed := uint64(row + 1)
			e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Ambient: c.ambient}
			if c.floor > 0 {
				for range 4 {
					e.Sensors = append(e.Sensors, floorAt(c.floor))
				}
			}
			if c.lag > 0 {
				for range 4 {
					e.Hoses = append(e.Hoses, engine.Hose{LagS: c.lag})
				}
			}
			r := record(t, e, effort.Of(8., 16.), nil) // of 60 s each cycle is told alike
			low := 200.0
			share := map[cycle.State]int{}
			for _, s := range r.follow() {
				if s.Start > 3 {
					share[s.State[1]]++
					low = min(low, float64(s.Lowest[1]))
				}
			}
			t.Log(share, fmt.Sprintf("lowest %.1f kPa", low))
			if c.cut && share[cycle.CutOff] == 0 || !c.cut && share[cycle.CutOff] > 0 {
				t.Errorf("want cut %v", c.cut)
			}
		})
	}
}

// A hose that is pinched while the engine runs is told within a second, and no sound one is, also while
// a screw is turned and the throttle blipped.
func TestPinchedHose(t *testing.T) {
	for row, lag := range effort.Of([]float64{0.012, 0.2}, []float64{0.012, 0.02, 0.03, 0.06, 0.1, 0.2}) {
		t.Run(fmt.Sprint(lag), func(t *testing.T) {
			t.Parallel()
			e := engine.Config{Bank: bank.Default(4), Seed: uint64(row + 1), Running: true, Lumpy: row%2 == 1}
			const at = 9.0
			pinched := false
			r := recordWith(t, e, 16, func(e *engine.Engine, time float64) {
				if time > 5 && time < 5.001 {
					e.Turn(1, 0.5)
				}
				if time > at && !pinched {
					e.Pinch(2, lag)
					pinched = true
				}
			})
			told := 0.0
			for _, s := range r.follow() {
				for c := range s.N {
					switch {
					case s.State[c] != cycle.Pinched && s.State[c] != cycle.WeakPulse && s.State[c] != cycle.NoPulse:
					case c != 1 || s.Start < at-0.5:
						t.Errorf("cylinder %d is %s at %.2f s", c+1, s.State[c], s.Start)
					case told == 0:
						told = s.End() - at
					}
				}
			}
			t.Logf("told after %.2f s", told)
			if told == 0 || told > 1 {
				t.Error("want it within 1 s")
			}
		})
	}
}
