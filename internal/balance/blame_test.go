package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// leanBench is a four whose second cylinder does not fire well once its draw is within 1.2 kPa of the others'.
func leanBench() (b *bench, st *Balance) {
	b = newBench(4, 9)
	b.scatter, b.draw = 0.03, []float64{22, 22, 25, 25}
	for s, e := range []float64{4, -4, 4} {
		b.bank.Screws[s].EffectKPaPerTurn, b.effect[s] = e, e
	}
	return b, New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
}

// untilFault lets the hand follow until a fault is told.
func (b *bench) untilFault(t *testing.T, st *Balance, cycles, every int) (a advice.Advice) {
	t.Helper()
	for k := range cycles {
		s := b.span()
		shut := b.draw[1] > 23.8
		s.Misfire[1] = shut && k%every == 0
		if a = st.Push(&s).Advice; a.Kind == advice.Fault {
			return a
		}
		if k > 80 && !shut { // the hand stays off from then on
			b.follow(a)
		}
	}
	t.Fatalf("no fault, but %s %s", a.Kind, a.Why)
	return a
}

// stand lets the engine stand for that long.
func (b *bench) stand(st *Balance, seconds float64) {
	for end := b.time + seconds; b.time < end; {
		s := b.span()
		s.Cycle = false
		st.Push(&s)
	}
}

// After a screw was told to be turned back the same screw is not told the same way again, nor is what was looked at
// first looked at first again: an air leak comes next, until somebody says that it was looked for.
func TestWhatWasLookedAtIsNotFirstAgain(t *testing.T) {
	for _, every := range []int{1, 2} {
		for name, back := range map[string]float64{"turned back": 1, "left": 0} {
			b, st := leanBench()
			first := b.untilFault(t, st, 900, every)
			if first.Why != advice.WhyLean && first.Why != advice.WhyDead || first.ScrewName != "2-3" {
				t.Fatalf("first %s of %d, screw %q", first.Why, first.Cylinder, first.ScrewName)
			}
			b.stand(st, 5)
			off := back * (b.draw[1] - 22)
			b.draw[0], b.draw[1], b.left = b.draw[0]-off, b.draw[1]-off, 0
			again := b.untilFault(t, st, 300, every)
			if again.Why != advice.WhyLeakNext || again.Cylinder != 2 || again.ScrewName != "2-3" {
				t.Fatalf("%s, every %d: then %s of %d, screw %q", name, every, again.Why, again.Cylinder,
					again.ScrewName)
			}
			if back == 0 {
				continue
			}
			for range 60 { // it stands
				s := b.span()
				if a := st.Push(&s).Advice; a.Why != advice.WhyLeakNext && a.Why != advice.WhyFewCycles {
					t.Fatalf("%s, every %d: %s %s", name, every, a.Kind, a.Why)
				}
			}
			st.GoOn()
			if a := b.run(st, 20, false).Advice; !a.ToTurn(advice.SyncScrew) || a.ScrewName != "2-3" {
				t.Errorf("after the key: %s %s %s", a.Kind, a.Why, a.ScrewName)
			}
		}
	}
}

// While a cylinder does not fire no bank is level and no key goes past that, at whatever step it began.
func TestADeadCylinderStopsTheLevelling(t *testing.T) {
	for _, at := range []advice.Why{advice.WhyNuts, advice.WhyBlip, advice.WhyLevel, advice.WhyUnlevel} {
		b := newBench(2, 24)
		b.scatter, b.draw[0], b.draw[1] = 0.03, 24, 25.5
		b.bank.Screws[0].EffectKPaPerTurn, b.effect[0] = -4, -4
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		for a := (advice.Advice{}); a.Why != at; {
			if a = b.run(st, 1, true).Advice; b.time > 120 {
				t.Fatalf("never told %s, but %s %s", at, a.Kind, a.Why)
			}
			if a.Why == advice.WhyNuts && at != advice.WhyNuts && !st.advisor.check.nutTight {
				b.run(st, 20, false)
				st.GoOn()
			}
		}
		dead := func(cycles int) {
			for k := range cycles {
				s := b.span()
				s.Misfire[1] = true
				a := st.Push(&s).Advice
				if late := k > 16; late && (a.Why != advice.WhyDead || a.Cylinder != 2) {
					t.Fatalf("%s, %d cycles: %s %s", at, k, a.Kind, a.Why)
				}
			}
		}
		dead(60)
		st.GoOn()
		dead(60)
		b.blip = 8
		dead(40)
		if a := b.run(st, 60, false).Advice; a.Why == advice.WhyDead {
			t.Errorf("%s: it fires again: %s %s", at, a.Kind, a.Why)
		}
	}
}
