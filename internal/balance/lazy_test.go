package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// A try of a lazy screw that moved the bank by little, for sure, is not told to have shown nothing: the next word is of
// the way that was seen, whichever that is.
func TestASmallAnswerIsAnAnswer(t *testing.T) {
	for seed := range uint64(12) {
		for _, moved := range []float64{0.3, -0.3, 0.4, -0.4} { // kPa, as the screw is tried
			b := newBench(2, seed)
			b.draw[0], b.draw[1] = 25, 27
			b.scatter = 0.12
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			var a advice.Advice
			next := func() { s := b.span(); r := st.Push(&s); a = r.Advice }
			for b.time < 60 && !a.ToTurn(advice.SyncScrew) {
				next()
			}
			tried := a
			if tried.Why != advice.WhyTry {
				t.Fatalf("seed %d: %+v", seed, a)
			}
			told := b.time
			for b.time < told+30 && a.Why == advice.WhyTry && !a.Again && a.Direction == tried.Direction {
				if since := b.time - told; since > 2 && since < 3 { // a hand turns for a second
					for _, c := range b.bank.Screws[0].Moves {
						b.draw[c-1] += moved * 0.115
					}
				}
				next()
			}
			if a.Why == advice.WhyTry && a.Again {
				t.Errorf("seed %d, %+.1f kPa: %+v", seed, moved, a)
			}
		}
	}
}
