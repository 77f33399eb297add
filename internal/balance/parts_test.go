package balance

import (
	"slices"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
)

// A hand that makes each amount by eighths, seconds apart, is told amounts as another is: what it has made of one in
// its first step is not what all of it does. One that makes them in one go is not waited for.
func TestAmountsMadeInPartsAreWaitedFor(t *testing.T) {
	t.Parallel()
	for name, hand := range map[string]steppingHand{
		"eighths": {step: 1.0 / 8, pause: 2.5, pace: learned.TurnPace},
		"at once": {step: 9, pause: 0.5, pace: learned.TurnPace},
	} {
		told, far, waited := 0, 0, 0
		for seed := range uint64(24) {
			b := newBench(4, seed)
			b.scatter = 0.04
			st, h := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true}), hand
			type amount struct {
				screw             int
				turns, from, sign float64
			}
			var list []amount
			var last advice.Advice
			for b.time < 240 {
				s := b.span()
				r := st.Push(&s)
				a := r.Advice
				if a.Kind == advice.Done {
					break
				}
				if st.advisor.phase == turning && st.advisor.resting(&r, &st.win) {
					waited++
				}
				known := a.ToTurn(advice.SyncScrew) && a.Why != advice.WhyTry && a.Why != advice.WhyKeepOn &&
					a.Direction != advice.UnknownWay
				if known && a.Turns > 3.0/16 && !a.Same(&last) {
					list = append(list, amount{a.Screw, a.Turns, h.net[a.Screw], a.Direction.Sign()})
				}
				if a.Why == advice.WhyNuts { // the screw has come right
					for _, l := range list {
						if l.screw == a.Screw {
							told++
							if need := (h.net[l.screw] - l.from) * l.sign; l.turns > 1.5*need+1.0/16 {
								far++
							}
						}
					}
					list = nil
				}
				last = a
				h.follow(b, st, &a)
			}
		}
		t.Logf("%s: of %d amounts %d are half as much again as is needed; %d cycles waited", name, told, far, waited)
		if told < 50 || far > told/20 || hand.step > 1 && waited > told {
			t.Errorf("%s: %d of %d amounts too large, %d cycles waited", name, far, told, waited)
		}
	}
}

// A hand that leaves an amount after its first eighth is told what is left once it has had the time to go on: scatter
// of the draws does not pass for a hand that goes on.
func TestAnAmountLeftInTheMiddleIsToldOn(t *testing.T) {
	const banks = 80
	var waits []float64
	for seed := range uint64(banks) {
		b := newBench(2, seed)
		b.scatter, b.draw = 0.05, []float64{25, 31}
		st := New(Config{Bank: b.bank, Ambient: 101.3})
		var heard advice.Advice
		left, rested, part := 0.0, 0.0, false
		for b.time < 150 {
			s := b.span()
			a := st.Push(&s).Advice
			news := a.Why != advice.WhyKeepOn && !a.Same(&heard)
			if news && part && left == 0 {
				waits = append(waits, b.time-rested)
				break
			}
			if heard = a; news && a.ToTurn(advice.SyncScrew) {
				left = mostTry
				part = a.Turns >= firstTurns && st.advisor.screws[0].Variance < learned.KnownVariance
			}
			step := min(left, 0.015)
			if left -= step; step > 0 {
				rested = b.time
			}
			for _, c := range b.bank.Screws[0].Moves {
				b.draw[c-1] += step * a.Direction.Sign() * b.effect[0]
			}
		}
	}
	slices.Sort(waits)
	n := len(waits)
	if n < banks/4 {
		t.Fatalf("%d amounts left", n)
	}
	t.Logf("%d amounts: told on after %.1f s (median), %.1f s (90 %%)", n, waits[n/2], waits[n*9/10])
	if waits[n/2] > 7 || waits[n*9/10] > 12 {
		t.Error("too late")
	}
}
