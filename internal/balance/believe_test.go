package balance

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"evendraw/internal/advice"
)

// A screw that was not named, and was turned back by most of what it was turned, is believed to be back within some
// seconds, though the idle hunts: what is left is levelled. One that stands is not.
func TestATurnBackIsBelieved(t *testing.T) {
	const banks, longest, stands = 40, 5.0, 20.0 // s
	for _, c := range []struct{ hunts, scatter, kpa, least float64 }{{0, 0.05, 1, 0.6}, {0, 0.05, 3, 0.6},
		{0.03, 0.05, 3, 0.6}, {0.03, 0.1, 2, 0.6}, {0, 0.05, 3, 0}, {0.03, 0.05, 3, 0}} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			var late []float64
			for seed := range uint64(banks) {
				b := newBench(4, seed)
				b.scatter, b.hunts = c.scatter, c.hunts
				st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
				var a advice.Advice
				for b.time < 60 && !a.ToTurn(advice.SyncScrew) {
					a = b.run(st, 1, false).Advice
				}
				b.run(st, 20, false)
				other := (st.advisor.screw + 1) % len(b.bank.Screws)
				turn := func(turns float64) {
					for range 12 {
						b.turn(other, turns/12)
						a = b.run(st, 1, false).Advice
					}
				}
				turns := c.kpa / math.Abs(b.effect[other])
				turn(turns)
				for at := b.time; b.time < at+10 && a.Why != advice.WhyOtherScrew; {
					a = b.run(st, 1, false).Advice
				}
				if a.Why != advice.WhyOtherScrew {
					continue // scatter hides it
				}
				b.run(st, 10, false)
				if c.least > 0 {
					turn(-turns * (c.least + 0.4*b.rng.Float64()))
				}
				at := b.time
				for b.time < at+stands && a.Why == advice.WhyOtherScrew {
					a = b.run(st, 1, false).Advice
				}
				late = append(late, b.time-at)
			}
			slices.Sort(late)
			n := len(late)
			t.Logf("told in %d, believed after %.1f s (median), %.1f s (90 %%), %.1f s", n, late[n/2], late[n*9/10],
				late[n-1])
			if n < banks*3/4 || c.least > 0 && late[n-1] > longest || c.least == 0 && late[n/10] < stands {
				t.Error("too late, or too soon")
			}
		})
	}
}
