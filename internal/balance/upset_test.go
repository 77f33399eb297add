package balance

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
)

// Where each turn makes the speed unsteady for a while, as on a lumpy idle, what was told and made before that counts
// once the speed is back: a screw is not tried again and again, and its way is found.
func TestATurnThatUpsetsTheSpeedCounts(t *testing.T) {
	const banks = 30
	tries, level, rows := 0, 0, 0
	for seed := range uint64(banks) {
		b := newBench(3, seed)
		b.scatter, b.upset = 0.1, 8
		h := wordHand{rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var last, told advice.Advice
		for row := 0; b.time < 300 && last.Kind != advice.Done && b.spread() < 30; {
			s := b.span()
			a := st.Push(&s).Advice
			if a.Why == advice.WhyTry && last.Why != advice.WhyTry {
				tries++
				if row++; a.Screw != told.Screw {
					row = 0
				}
				if row == 2 {
					rows++
				}
				told = a
			}
			last = a
			h.follow(b, st, &a)
		}
		if last.Kind == advice.Done && b.spread() < 0.7 {
			level++
		}
	}
	t.Logf("of %d triples %d level; %d tries, the same screw three times in %d", banks, level, tries, rows)
	if level < banks*9/10 || rows > banks/10 {
		t.Error("tried again and again")
	}
}
