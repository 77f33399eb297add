package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
)

// turner is a twin whose one screw, of 8 kPa a turn by its card, is told an amount; it returns by how much, kPa, what
// it is to move.
func turner(t *testing.T, seed uint64) (b *bench, bal *Balance, way, told float64) {
	b = newBench(2, seed)
	b.scatter, b.draw = 0.03, []float64{25, 22}
	b.bank.Screws[0].EffectKPaPerTurn, b.effect[0] = 8, 8
	bal = New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	a := untilTold(t, b, bal).Advice
	if math.IsNaN(a.Turns) {
		t.Fatalf("no amount: %+v", a)
	}
	b.run(bal, 30, false)
	return b, bal, a.Direction.Sign(), a.Turns * 8
}

// moves moves the screw by so much a cycle for some cycles, and returns whether anything but to go on was told.
func (b *bench) moves(bal *Balance, cycles int, step float64) (told bool) {
	first := bal.told
	for range cycles {
		b.draw[1] += step
		a := b.run(bal, 1, false).Advice
		told = told || a.Why != advice.WhyKeepOn && !a.Same(&first)
	}
	return told
}

// What is left is told soon after a hand has come to rest, not while it turns, though it slows down on
// the way.
func TestAHandAtRest(t *testing.T) {
	for _, c := range []struct {
		cyclesToTurn int
		most         float64 // cycles until it is told, in the mean
		cut          int     // hands of runs that may be cut short
	}{{6, 6, 2}, {18, 8, 8}} {
		early, waited := 0, 0
		const runs = 40
		for seed := range uint64(runs) {
			b, bal, way, told := turner(t, seed)
			step := way * told / float64(c.cyclesToTurn)
			third := c.cyclesToTurn / 3
			if b.moves(bal, third, step) || b.moves(bal, 3*third/2, step*2/3) || b.moves(bal, third, step) {
				early++
				continue
			}
			for ; !b.moves(bal, 1, 0); waited++ {
				if waited > 100*runs {
					t.Fatal("never seen to rest")
				}
			}
		}
		mean := float64(waited) / float64(runs-early)
		say := t.Logf
		if early > c.cut || mean > c.most {
			say = t.Errorf
		}
		say("an amount in %d cycles: %d of %d hands cut short, %.1f cycles of rest", c.cyclesToTurn, early, runs, mean)
	}
}
