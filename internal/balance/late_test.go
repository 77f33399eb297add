package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// A small answer of a lazy screw that comes late, about when more is told, is seen all the same, the wrong way too.
func TestALateSmallAnswerIsSeen(t *testing.T) {
	const pace, period = 0.125, 0.115 // turns a second, s
	missed, n := 0, 0
	for seed := range uint64(10) {
		for _, after := range []float64{1, 8, 13, 14, 14.5, 15, 15.5, 16, 18, 24} {
			for _, effect := range []float64{2.5, -2.5} {
				b := newBench(4, seed)
				b.scatter = 0.03 + 0.007*float64(seed)
				b.draw = []float64{25, 25, 25, 23}
				b.effect[1] = effect
				st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
				named := b.until(t, st, advice.WhyTry)
				told := named.Advice
				b.run(st, int(after/period), false)
				for range 9 { // an eighth of a turn, in a second
					b.turn(told.Screw, pace*period*told.Direction.Sign())
					b.run(st, 1, false)
				}
				seen, a := false, told
				for range 100 {
					a = b.run(st, 1, false).Advice
					seen = seen || a.Kind == advice.Stop || a.ToTurn(advice.SyncScrew) && a.Why != advice.WhyTry
				}
				if n++; !seen {
					missed++
					t.Logf("seed %d, %g s, %g kPa a turn: then %s %s", seed, after, effect, a.Kind, a.Why)
				}
			}
		}
	}
	if t.Logf("%d of %d not seen in 12 s", missed, n); missed > 0 {
		t.Error("answers missed")
	}
}
