package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// On an idle that hunts, or is lumpy, with nobody at the screws, no lock nut counts as tightened before the key or the
// time, and no screw as turned: what the idle moves by itself is no step. Where cylinders sway one after the other, by
// what no speed tells, that is so but for the first seconds, in which it is not known how much.
func TestAnIdleThatWandersIsNoHand(t *testing.T) {
	const banks = 60
	for _, c := range []struct {
		hunts, scatter, sways float64
		mostGone, mostTurned  int
	}{{0.03, 0.05, 0, 3, 0}, {0, 0.3, 0, 3, 0}, {0.03, 0.15, 0, 3, 0}, {0.03, 0.05, 0.1, 4, 5}, {0.03, 0.05, 0.2, 5, 9},
		{0.03, 0.1, 0.3, 9, 18}} {
		gone, nuts, turned, asked := 0, 0, 0, 0
		for seed := range uint64(banks) {
			b := newBench(4, seed)
			b.scatter, b.hunts, b.sways = c.scatter, c.hunts, c.sways
			bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			var a advice.Advice
			for b.time < 60 && !a.ToTurn(advice.SyncScrew) {
				a = b.run(bal, 1, false).Advice
			}
			asked++
			for at := b.time; b.time < at+25; {
				if a = b.run(bal, 1, false).Advice; a.Why == advice.WhyKeepOn || a.Why == advice.WhyOtherScrew ||
					a.Kind == advice.Reverse {
					turned++
					break
				}
			}
			b = newBench(4, seed)
			b.scatter, b.hunts, b.sways = c.scatter, c.hunts, c.sways
			bal = New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			for a = (advice.Advice{}); b.time < 120 && a.Why != advice.WhyNuts; {
				a = b.run(bal, 1, true).Advice
			}
			if a.Why != advice.WhyNuts {
				continue
			}
			nuts++
			for at := b.time; b.time < at+18; {
				if a = b.run(bal, 1, false).Advice; a.Why != advice.WhyNuts {
					gone++
					break
				}
			}
		}
		t.Logf("hunts %v, scatter %v, sways %v: %d of %d nuts gone by themselves, %d of %d screws turned by nobody",
			c.hunts, c.scatter, c.sways, gone, nuts, turned, asked)
		if gone > c.mostGone || turned > c.mostTurned || nuts < banks/2 {
			t.Error("too often")
		}
	}
}
