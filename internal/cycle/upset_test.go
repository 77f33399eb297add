package cycle_test

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
)

// A hose that comes off within the quarter of a cycle behind a cycle's end has the place of that end in doubt: the two
// cycles that meet there are not whole. All others of a steady engine are.
func TestUpsetCycles(t *testing.T) {
	t.Parallel()
	const off = 8.0                                         // s
	for row, seed := range []uint64{1, 5, 9, 22, 3, 4, 6} { // of the last three it comes off elsewhere in a cycle
		at, done := off+0.013*float64(seed), false
		r := recordWith(t, engine.Config{Bank: bank.Default(4), Seed: seed + 1, Running: true, Alike: true,
			NoSensorErrors: true}, off+1, func(e *engine.Engine, now float64) {
			if now > at && !done {
				done = true
				e.FailSensor(int(seed%4)+1, engine.SensorHoseOff)
			}
		})
		upset, elsewhere := 0, 0
		for _, s := range r.follow() {
			switch {
			case !s.Upset:
			case s.Cycle && !s.Whole() && s.Start < at+0.02 && s.End() > at-0.05:
				upset++
			default:
				elsewhere++
			}
		}
		if want := map[bool]int{true: 2}[row < 4]; upset != want || elsewhere > 0 {
			t.Errorf("seed %d: %d cycles upset where it comes off, want %d; %d elsewhere", seed, upset, want, elsewhere)
		}
	}
}
