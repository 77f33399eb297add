package balance

import (
	"testing"

	"evendraw/internal/advice"
)

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
