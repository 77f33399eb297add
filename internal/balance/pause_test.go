package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
)

// Who has to find the first lock nut has a minute until it is asked whether the screw was turned, and is told the same
// until then; once a screw has answered, or where there are no nuts, it is asked sooner.
func TestTheFirstNutIsLookedForWithoutHaste(t *testing.T) {
	for _, c := range []struct {
		reached, noNuts bool
		least, most     float64
	}{{false, false, firstPatience, firstPatience + 1}, {true, false, 15, 40}, {false, true, 4, 40}} {
		b := newBench(2, 24)
		b.scatter, b.draw[0], b.draw[1], b.bank.NoLockNuts = 0.03, 22, 27, c.noNuts
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		from := untilTold(t, b, st).Time
		st.advisor.reached = c.reached
		var before Reading
		for {
			s := b.span()
			r := st.Push(&s)
			if r.Advice.Why == advice.WhyNoAnswer || r.Time > from+100 {
				break
			}
			if before = r; !r.Advice.ToTurn(advice.SyncScrew) {
				t.Fatalf("%.1f s: %s %s", r.Time-from, r.Advice.Kind, r.Advice.Why)
			}
		}
		if took := before.Time - from; took < c.least-1 || took > c.most {
			t.Errorf("reached %v, no nuts %v: asked after %.1f s", c.reached, c.noNuts, took)
		}
	}
}

// A screw that has answered and is turned no more is told apart from one that never has; once it is asked anew, and
// does nothing, it is one of those.
func TestAHandThatPausesIsToldApart(t *testing.T) {
	b := newBench(2, 24)
	b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
	st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	untilTold(t, b, st)
	way := math.Copysign(1, 24.5-b.draw[b.bank.Screws[0].Moves[0]-1])
	for range 10 {
		b.turn(0, way*0.2/b.effect[0])
		b.run(st, 1, false)
	}
	if a := silentHand(t, b, st).Advice; !a.Answered {
		t.Errorf("it has answered: %+v", a)
	}
	st.GoOn()
	b.run(st, 8, false)
	if a := silentHand(t, b, st).Advice; a.Answered {
		t.Errorf("it has not answered since it was asked anew: %+v", a)
	}
}

// A try that was told where nobody saw it is told from the beginning once somebody does, not as one that showed
// nothing.
func TestATryThatNobodySawIsToldAnew(t *testing.T) {
	b := newBench(2, 24)
	b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
	st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	first := untilTold(t, b, st).Advice
	for range 800 {
		if b.run(st, 1, false).Advice.Again {
			break
		}
	}
	if !st.told.Again {
		t.Fatal("never told again")
	}
	st.AskAnew()
	b.run(st, 1, false)
	if a := st.told; a.Again || a.Why != advice.WhyTry || a.Turns != first.Turns {
		t.Errorf("told at first %+v, once it is seen %+v", first, a)
	}
}
