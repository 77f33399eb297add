package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// While a hand turns what it was told, however slowly, it is told no other amount: "from where it is now" would be
// another place each time. Its screw is of 4 kPa a turn, of which nothing is known; before, 5, 57, 22 and 60 were.
func TestNoAmountGrowsUnderAHand(t *testing.T) {
	const banks = 60
	for _, c := range []struct {
		pace    float64 // turns a second
		scatter float64
		most    int
	}{{0.125, 0.05, 4}, {0.055, 0.03, 24}, {0.055, 0.08, 12}, {0.04, 0.03, 34}} {
		grown, told := 0, 0
		for seed := range uint64(banks) {
			b := newBench(2, seed)
			b.scatter, b.draw, b.effect[0] = c.scatter, []float64{25, 28}, -4
			bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			a := b.until(t, bal, advice.WhyTry).Advice
			b.run(bal, 30, false)
			step := a.SignedTurns() * c.pace * 0.115 / a.Turns
			for left := a.Turns * 1.1; left > 0; left -= c.pace * 0.115 {
				b.turn(0, step)
				if now := b.run(bal, 1, false).Advice; now.ToTurn(advice.SyncScrew) && now.Why != advice.WhyKeepOn &&
					!now.SameTurns(&a) {
					grown++
					break
				}
			}
			told++
		}
		say := t.Logf
		if grown > c.most {
			say = t.Errorf
		}
		say("a hand of %g turns a second, scatter %g: %d of %d told another amount", c.pace, c.scatter, grown, told)
	}
}

// A try told once more after a wait, as where the speed moved, is still on its way to a hand that has a lock nut to
// loosen: no more is told before it can have made that.
func TestATryToldAgainGivesTheHandItsTime(t *testing.T) {
	for seed := range uint64(20) {
		b := newBench(4, seed)
		b.scatter = 0.05
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		b.until(t, bal, advice.WhyTry)
		first := b.time
		b.run(bal, 30, false)
		b.upsets = 8
		for bal.told.Why == advice.WhyTry && b.time < 30 {
			b.run(bal, 1, false)
		}
		if bal.told.Again {
			continue // it did not come between
		}
		b.until(t, bal, advice.WhyTry)
		again := b.time
		for b.time < 60 && !bal.told.Again {
			b.run(bal, 1, false)
		}
		if took := b.time - first; took < walkSeconds+loosenSeconds || b.time-again < 3 {
			t.Errorf("seed %d: more told %.1f s after the screw was named, %.1f s after it was named again", seed, took,
				b.time-again)
		}
	}
}
