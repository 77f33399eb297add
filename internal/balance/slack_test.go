package balance

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evendraw/internal/advice"
)

// Where screws turn by a sixteenth before anything follows another way, a small amount that was made and moved nothing
// is seldom told again: what it has taken up is counted, and more of it is expected.
func TestAHairInTheSlackIsNotToldAgain(t *testing.T) {
	const banks, small = 120, 1.0 / 16
	again, rows, amounts, level := 0, 0, 0, 0
	var times []float64
	for seed := range uint64(banks) {
		b := newBench(4, seed)
		b.scatter, b.slack = 0.05, 1.0/16
		for s := range b.effect {
			b.effect[s] = math.Copysign(6+18*b.rng.Float64(), b.effect[s])
		}
		h := wordHand{rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var last, told advice.Advice
		row, x, since := 0, 0.0, 0.0
		for b.time < 300 && last.Kind != advice.Done {
			s := b.span()
			a := st.Push(&s).Advice
			anew := st.advisor.phase == asking && st.advisor.phaseTime != since
			if anew && a.ToTurn(advice.SyncScrew) && a.Turns <= small && a.Why != advice.WhyTry {
				amounts++
				now := b.wanted(a.Screw, &st.win.link)
				same := a.Screw == told.Screw && a.Direction == told.Direction && a.Turns <= told.Turns
				if row++; !same || math.Abs(now-x) > 0.06 {
					row = 0
				}
				x = now
				if row > 0 {
					again++
				}
				if row == 2 {
					rows++
				}
				told = a
			}
			if anew {
				since = st.advisor.phaseTime
			}
			last = a
			h.follow(b, st, &a)
		}
		if last.Kind == advice.Done && b.spread() < 0.7 {
			level++
		}
		times = append(times, b.time)
	}
	slices.Sort(times)
	t.Logf("level %d of %d, %.0f s, %.0f s (90 %%); of %d small amounts %d told again where nothing had moved, twice "+
		"running in %d", level, banks, times[banks/2], times[banks*9/10], amounts, again, rows)
	if level < banks || again > amounts/6 || rows > banks/10 {
		t.Error("too often")
	}
}
