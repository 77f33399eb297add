package balance

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
)

// A channel whose state is still that of before the start is no fault, one that stays is.
func TestAChannelsStateOfBeforeTheStart(t *testing.T) {
	for cycles, told := range map[int]bool{5: false, 20: true} {
		b := newBench(4, 3)
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		fault := 0.0
		for k := range 30 {
			s := b.span()
			if k < cycles {
				s.State[1] = cycle.NoPulse
			}
			if r := bal.Push(&s); fault == 0 && r.Advice.Why == advice.WhyChannel {
				fault = r.Time
			}
		}
		if fault > 0 != told || told && fault < faultSeconds {
			t.Errorf("%d cycles without a pulse: told at %.2f s", cycles, fault)
		}
	}
}

// A channel that shows less than the others may be of a butterfly that stands far open: a key takes it as it is, in
// doubt. One that shows nothing is not taken, and neither once the engine has stood.
func TestAChannelThatShowsLessIsTaken(t *testing.T) {
	for state, taken := range map[cycle.State]bool{cycle.ShowsLess: true, cycle.NoPulse: false} {
		b := newBench(4, 3)
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		run := func(cycles int, turns bool) (r Reading) {
			for range cycles {
				s := b.span()
				s.State[1], s.Cycle = state, turns
				r = bal.Push(&s)
			}
			return r
		}
		if a := run(40, true).Advice; a.Why != advice.WhyChannel {
			t.Fatalf("%s: %s told", state, a.Why)
		}
		bal.GoOn()
		r := run(20, true)
		if got := r.Advice.Why != advice.WhyChannel; got != taken ||
			taken && (r.Cylinders[1].State != cycle.OK || r.Cylinders[1].Doubt != advice.WhyShowsLess) {
			t.Errorf("%s: then %s, %+v", state, r.Advice.Why, r.Cylinders[1])
		}
		run(60, false)
		if a := run(40, true).Advice; a.Why != advice.WhyChannel {
			t.Errorf("%s: after a stand %s", state, a.Why)
		}
	}
}

// A key that comes as a fault takes the place of a lock nut, or of another fault, was for that; a second later it is
// for the fault.
func TestAKeyForTheWordBefore(t *testing.T) {
	for _, before := range []advice.Why{advice.WhyNuts, advice.WhyDisagree, advice.WhyUnlevel} {
		for _, late := range []int{1, 12} {
			b := newBench(4, 21)
			b.scatter = 0.03
			bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			untilTold(t, b, bal)
			bal.gate.faults.Found[1] = advice.WhyMisfires
			if bal.told.Why = before; before == advice.WhyDisagree {
				bal.told.Kind = advice.Fault
			}
			b.run(bal, late, false)
			if bal.told.Why != advice.WhyMisfires {
				t.Fatalf("%s is told", bal.told.Why)
			}
			bal.GoOn()
			passed := b.run(bal, 1, false).Advice.Why != advice.WhyMisfires
			if want := late > 1 || before == advice.WhyUnlevel; passed != want {
				t.Errorf("a key %d cycles after a fault took the place of %q: gone past %v", late, before, passed)
			}
		}
	}
}

// What a levelling was stopped for stands while cycles are few.
func TestAHaltStandsWhileCyclesAreFew(t *testing.T) {
	b := newBench(2, 24)
	b.scatter, b.draw = 0.03, []float64{25, 29}
	b.bank.Screws[0].EffectKPaPerTurn = 2
	bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	b.run(bal, 20, false)
	a := &bal.advisor
	a.screws[0].ObserveDirection(1, true, true)
	a.halts.moved[0] = 7
	b.draw[1] += 3 // what stood before no longer counts
	for k := range 40 {
		r := b.run(bal, 1, false)
		if a.halts.told == advice.WhyFar && r.Advice.Why != advice.WhyFar {
			t.Fatalf("cycle %d: %s %s over %d cycles", k, r.Advice.Kind, r.Advice.Why, r.Cycles)
		}
		if a.halts.told == "" {
			rest := bal.win.lately()
			a.nameScrew(0, &rest, &bal.win)
			b.draw[1] += 3
		}
	}
	if a.halts.told != advice.WhyFar {
		t.Errorf("told %q", a.halts.told)
	}
}
