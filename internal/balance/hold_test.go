package balance

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evendraw/internal/advice"
)

// Where the idle hunts and the draws scatter, no hand is held for long at a screw that is nearly level while another is
// clearly off: what is left of it, and would not be seen to move, waits.
func TestAHuntingIdleHoldsNoHand(t *testing.T) {
	const banks, near, off, longest = 100, 1.0, 2.0, 18.0 // kPa, s
	var held, times []float64
	level := 0
	for seed := range uint64(banks) {
		b := newBench(4, seed)
		b.scatter, b.hunts = 0.15, 0.03
		b.draw[3] += 4
		h := wordHand{rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var last advice.Advice
		most, since, screw := 0.0, 0.0, advice.NoScrew
		for b.time < 400 && last.Kind != advice.Done {
			s := b.span()
			a := st.Push(&s).Advice
			if a.Screw != advice.NoScrew {
				other, x := 0.0, math.Abs(b.wanted(a.Screw, &st.win.link))
				for o := range b.effect {
					if o != a.Screw {
						other = max(other, math.Abs(b.wanted(o, &st.win.link)))
					}
				}
				if a.Screw != screw || x > near || other < max(off, 2*x) {
					since = b.time
				}
				screw = a.Screw
			}
			most = max(most, b.time-since)
			last = a
			h.follow(b, st, &a)
		}
		if last.Kind == advice.Done && b.spread() < 0.7 {
			level++
		}
		held, times = append(held, most), append(times, b.time)
	}
	slices.Sort(times)
	slices.Sort(held)
	t.Logf("level %d of %d, %.0f s, %.0f s (90 %%); held %.1f s (median), %.1f s (90 %%), %.1f s", level, banks,
		times[banks/2], times[banks*9/10], held[banks/2], held[banks*9/10], held[banks-1])
	if level < banks || held[banks-1] > longest {
		t.Error("too long")
	}
}
