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
		for name, back := range map[string]bool{"turned back": true, "left": false} {
			b, st := leanBench()
			first := b.untilFault(t, st, 900, every)
			if first.Why != advice.WhyLean && first.Why != advice.WhyDead || first.ScrewName != "2-3" {
				t.Fatalf("first %s of %d, screw %q", first.Why, first.Cylinder, first.ScrewName)
			}
			b.stand(st, 5)
			if b.left = 0; back {
				b.turnBack()
			}
			again := b.untilFault(t, st, 300, every)
			if again.Why != advice.WhyLeakNext || again.Cylinder != 2 || again.ScrewName != "2-3" {
				t.Fatalf("%s, every %d: then %s of %d, screw %q", name, every, again.Why, again.Cylinder,
					again.ScrewName)
			}
			if !back {
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

// blamed is a leanBench whose screw was told as that which made cylinder 2 misfire every so many cycles.
func blamed(t *testing.T, every int) (b *bench, st *Balance) {
	t.Helper()
	b, st = leanBench()
	a := b.untilFault(t, st, 900, every)
	for k := 0; every == 1 && a.Why != advice.WhyDead && k < 60; k++ {
		a = b.untilFault(t, st, 1, every)
	}
	if want := map[int]advice.Why{1: advice.WhyDead, 2: advice.WhyLean}[every]; a.Why != want || a.ScrewName != "2-3" {
		t.Fatalf("%s of %d, screw %q", a.Why, a.Cylinder, a.ScrewName)
	}
	return b, st
}

// turnBack turns the screw back that has shut the second cylinder.
func (b *bench) turnBack() {
	off := b.draw[1] - 22
	b.draw[0], b.draw[1], b.left = b.draw[0]-off, b.draw[1]-off, 0
}

// The key goes past no cylinder that does not fire: what is told of it, and the way back, stay as they were.
func TestTheKeyLeavesADeadCylinderAsItIs(t *testing.T) {
	b, st := blamed(t, 1)
	before := b.untilFault(t, st, 1, 1)
	if before.Direction == advice.UnknownWay {
		t.Fatal("no way back")
	}
	st.GoOn()
	a := b.untilFault(t, st, 1, 1)
	if a.Why != advice.WhyDead || a.ScrewName != "2-3" || a.Direction != before.Direction {
		t.Errorf("after the key: %s, screw %q %s", a.Why, a.ScrewName, a.Direction)
	}
}

// Who has looked for the leak, and says so, by the key or by wetting the joints, has it told again only after a new
// misfire; and that only once, as it was looked for then again.
func TestALeakThatWasLookedForIsNotToldAgain(t *testing.T) {
	for name, says := range map[string]func(b *bench, st *Balance){
		"key": func(_ *bench, st *Balance) { st.GoOn() },
		"key, the engine back on": func(b *bench, st *Balance) {
			b.stand(st, 5)
			b.run(st, 4, false)
			st.GoOn()
		},
		"joints wetted": func(b *bench, st *Balance) {
			b.stand(st, 5)
			st.Pause(true)
			b.run(st, 20, false)
			st.Pause(false)
		},
	} {
		b, st := blamed(t, 2)
		b.turnBack()
		says(b, st)
		for k := 0; ; k++ {
			a := b.run(st, 1, false).Advice
			if a.Why == advice.WhyLeakNext || k > 200 {
				t.Fatalf("%s: %s %s after %d cycles", name, a.Kind, a.Why, k)
			}
			if a.ToTurn(advice.SyncScrew) && a.ScrewName == "2-3" {
				break
			}
		}
		b.stand(st, 5)
		b.draw[0], b.draw[1] = b.draw[0]+2, b.draw[1]+2
		if a := b.untilFault(t, st, 300, 2); a.Why != advice.WhyLeakNext {
			t.Errorf("%s: a new misfire: %s", name, a.Why)
		}
		st.GoOn()
		b.stand(st, 5)
		if a := b.untilFault(t, st, 300, 2); a.Why == advice.WhyLeakNext {
			t.Errorf("%s: the same once more after the key", name)
		}
	}
}

// A cylinder that has fired well for long, its screw in its place, has nothing to do with what was told before.
func TestABlameEnds(t *testing.T) {
	for seconds, want := range map[float64]bool{10: true, firesWell + 10: false} {
		b, st := blamed(t, 2)
		b.stand(st, 5)
		b.draw, b.left = []float64{25, 25, 25, 25}, 0
		for end := b.time + seconds; b.time < end; {
			b.run(st, 1, false)
		}
		b.draw = []float64{22, 22, 25, 25}
		told := false
		for range 200 {
			a := b.run(st, 1, false).Advice
			if told = a.Why == advice.WhyLeakNext; told || a.ToTurn(advice.SyncScrew) && a.ScrewName == "2-3" {
				break
			}
		}
		if told != want {
			t.Errorf("after %.0f s: told %v", seconds, told)
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
