package balance

import "testing"

// An idle whose speed scatters by 7 % as a rule is steady for most of the time; a blip makes it unsteady as on any
// other, and one that comes in a calm idle still does.
func TestARoughIdleIsSteady(t *testing.T) {
	for _, c := range []struct{ scatter, least float64 }{{0.07, 0.9}, {0.02, 0.98}} {
		b := newBench(4, 3)
		st := New(Config{Bank: b.bank, Ambient: 101.3})
		push := func() bool {
			s := b.span()
			s.Period *= 1 + c.scatter*b.rng.NormFloat64()
			return st.Push(&s).Steady
		}
		steady, cycles := 0, 0
		for ; b.time < 90; cycles++ {
			if push() && b.time > 30 {
				steady++
			}
		}
		share := float64(steady) / float64(cycles) * 90 / 60
		if t.Logf("scatter %v: steady for %.2f of the time", c.scatter, share); share < c.least {
			t.Error("too seldom")
		}
		b.blip = 16
		unsteady := 0
		for range 16 {
			if !push() {
				unsteady++
			}
		}
		if unsteady < 10 {
			t.Errorf("scatter %v: %d cycles of a blip were unsteady", c.scatter, unsteady)
		}
	}
}
