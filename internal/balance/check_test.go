package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/learned"
	"evendraw/internal/pressure"
)

// run lets the bench go on for some cycles and returns the last reading; follow has
// the hand do what it is told.
func (b *bench) run(bal *Balance, cycles int, follow bool) (r Reading) {
	for range cycles {
		s := b.span()
		r = bal.Push(&s)
		if follow {
			b.follow(r.Advice)
		}
	}
	return r
}

// until runs the bench until an advice has that reason; on the way to level it is blipped when asked, else
// nothing touches it.
func (b *bench) until(t *testing.T, bal *Balance, why advice.Why) Reading {
	t.Helper()
	for range 400 {
		r := b.run(bal, 1, false)
		if r.Advice.Why == why {
			return r
		}
		if c := &bal.advisor.check; why == advice.WhyLevel && r.Advice.Why == advice.WhyBlip && !c.blipSeen {
			b.blip = 16
		}
	}
	t.Fatalf("no advice %q in 400 cycles", why)
	return Reading{}
}

// levelTwin is a twin that is level, the lock nut of its screw asked for.
func levelTwin(t *testing.T) (*bench, *Balance) {
	b := newBench(2, 1)
	b.scatter, b.draw = 0.05, []float64{25, 27}
	b.bank.Screws[0].EffectKPaPerTurn, b.effect[0] = 4, 4
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	for range 400 {
		r := b.run(bal, 1, false)
		if r.Advice.Why == advice.WhyNuts {
			return b, bal
		}
		b.follow(r.Advice)
	}
	t.Fatal("the twin never was level")
	return nil, nil
}

func TestDoneOnlyAfterTheLockNutsAndABlip(t *testing.T) {
	b, bal := levelTwin(t)
	asked := b.time
	if r := b.until(t, bal, advice.WhyBlip); r.Time < asked+learned.NutSeconds {
		t.Errorf("%+v %.1f s after the nut was asked for", r.Advice, r.Time-asked)
	}
	if r := b.run(bal, 300, false); r.Advice.Why != advice.WhyBlip {
		t.Fatalf("without a blip: %+v", r.Advice)
	}
	b.blip = 16
	if r := b.until(t, bal, advice.WhyLevel); r.Advice.Kind != advice.Done || r.NutsUnsaid != 1 {
		t.Errorf("%+v after the blip, nuts that nobody confirmed: %b", r.Advice, r.NutsUnsaid)
	}
	bal.NutTight() // it is asked beside the level bank
	if r := b.run(bal, 1, false); r.Advice.Kind != advice.Done || r.NutsUnsaid != 0 {
		t.Errorf("%+v, nuts that nobody confirmed: %b", r.Advice, r.NutsUnsaid)
	}
}

// A blip in which the cycles are lost, as behind long hoses, is one: the air of all runners shows it, and that of an
// engine that idles on does not.
func TestABlipThatHidesTheCycles(t *testing.T) {
	for draw, seen := range map[pressure.KPa]bool{5: true, 45: true, 22: false} {
		b, bal := levelTwin(t)
		b.until(t, bal, advice.WhyBlip)
		for range 3 {
			s := cycle.Span{Start: b.time, Period: 0.25, N: 2}
			s.Mean[0], s.Mean[1] = 101.3-draw, 101.3-draw
			bal.Push(&s)
			b.time += s.Period
		}
		if r := b.run(bal, 200, false); (r.Advice.Why == advice.WhyLevel) != seen {
			t.Errorf("a draw of %v kPa: %+v", draw, r.Advice)
		}
	}
}

// A nut that moves the setting brings the advice back to the same screw, and its nut is asked for again, and
// then a blip.
func TestANutThatShiftsTooFar(t *testing.T) {
	b, bal := levelTwin(t)
	b.run(bal, 16, false)
	b.draw[1] += 1.2
	for range 200 {
		r := b.run(bal, 1, false)
		if r.Advice.Why == advice.WhyBlip || r.Advice.Kind == advice.Done {
			t.Fatalf("%s, though the nut has moved the setting by 1.2 kPa", r.Advice.Why)
		}
		if r.Advice.Kind == advice.Turn {
			break
		}
	}
	blips, nuts := 0, 0
	for range 600 {
		r := b.run(bal, 1, true)
		switch {
		case r.Advice.Why == advice.WhyBlip:
			blips++
		case r.Advice.Why == advice.WhyNuts:
			nuts++
		case r.Advice.Kind == advice.Done:
			if blips == 0 || nuts == 0 || b.spread() > 0.5 {
				t.Errorf("done at %.2f kPa, blip asked for in %d cycles, nuts in %d", b.spread(), blips, nuts)
			}
			return
		}
	}
	t.Error("never done again")
}

// A lock nut is tight when the user says so.
func TestTheUserSaysThatANutIsTight(t *testing.T) {
	b, bal := levelTwin(t)
	r := b.run(bal, 1, false)
	if r.Advice.Why != advice.WhyNuts || r.Advice.ScrewName != "1-2" {
		t.Errorf("%+v, want the nut of 1-2", r.Advice)
	}
	bal.GoOn()
	said := r.Time
	if r = b.until(t, bal, advice.WhyBlip); r.Time > said+1.5 {
		t.Errorf("a blip is asked for %.1f s after the nut was said to be tight", r.Time-said)
	}
	if r = b.until(t, bal, advice.WhyLevel); r.Time > said+learned.UsualReach+learned.NutSeconds {
		t.Errorf("done %.1f s after the nut was said to be tight", r.Time-said)
	}
}

// What a lock nut shifts is seen, and the next one is asked for.
func TestTheStepOfANutIsSeen(t *testing.T) {
	b, bal := levelTwin(t)
	b.run(bal, 16, false)
	if bal.advisor.phase != tightening {
		t.Fatal("nobody was at the nut yet")
	}
	b.draw[1] += 0.45
	if b.run(bal, 12, false); bal.advisor.openNuts() != 0 || bal.advisor.hand == learned.NewHand(Hand{}) {
		t.Errorf("the step of a nut was not seen: %+v", bal.advisor.hand)
	}
}

// Levels that a blip or the nuts leave beyond the aim are never called done.
func TestLevelIsTakenBack(t *testing.T) {
	b, bal := levelTwin(t)
	b.until(t, bal, advice.WhyLevel)
	b.draw[0] += 2
	if r := b.run(bal, 40, false); r.Advice.Kind != advice.Turn {
		t.Errorf("2 kPa off after done: %+v", r.Advice)
	}
}

// While the engine is to stand no screw is named, whatever was under way.
func TestHotEngine(t *testing.T) {
	b := newBench(2, 1)
	b.draw = []float64{25, 29}
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	b.until(t, bal, advice.WhyTry)
	bal.SetHeat(heat.State{Hot: true})
	if r := b.run(bal, 1, false); r.Advice.Why != advice.WhyHot || r.Advice.Kind != advice.Wait {
		t.Errorf("hot: %+v", r.Advice)
	}
	bal.SetHeat(heat.State{})
	b.until(t, bal, advice.WhyTry)
}

// A bank that is level stays so at a raised speed, which is no idle for all that.
func TestLevelAtARaisedSpeed(t *testing.T) {
	b, bal := levelTwin(t)
	b.until(t, bal, advice.WhyLevel)
	var r Reading
	for range 60 {
		s := b.span()
		s.Period /= 2.7
		r = bal.Push(&s)
	}
	if r.Advice.Kind != advice.Done || !r.Steady || !r.OffIdle {
		t.Errorf("steady %t, off idle %t, %+v", r.Steady, r.OffIdle, r.Advice)
	}
}

func TestSpeedsThatAreNoIdle(t *testing.T) {
	for name, c := range map[string]struct {
		cfg   Config
		speed float64
		why   advice.Why
	}{
		"raised, no range":   {Config{}, 3, advice.WhyOffIdle},
		"above the range":    {Config{IdleLow: 600, IdleHigh: 700}, 1, advice.WhyOffIdle},
		"near the range":     {Config{IdleLow: 1100, IdleHigh: 1200}, 1, advice.WhyTry},
		"as the range wants": {Config{IdleLow: 1000, IdleHigh: 1100}, 1, advice.WhyTry},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(2, 1)
			b.draw = []float64{25, 29}
			c.cfg.Bank, c.cfg.Ambient = b.bank, 101.3
			bal := New(c.cfg)
			var r Reading
			for range 60 {
				s := b.span()
				s.Period /= c.speed
				r = bal.Push(&s)
			}
			if r.Advice.Why != c.why {
				t.Errorf("%+v, want %s", r.Advice, c.why)
			}
		})
	}
}

// Two turns of known amount teach a screw's effect; a direction is turned round by the newest movement that was
// seen, but not by one against a card alone.
func TestKnowledge(t *testing.T) {
	k := learned.NewScrew(0)
	if k.DirectionKnown() || k.Effect() != 0 {
		t.Errorf("a new screw is known: %+v", k)
	}
	for range 3 {
		k.ObserveDirection(1, false, true) // clockwise lowers
		k.ObserveEffect(1.2, 0.5, learned.ToldSpread)
	}
	if e := k.Effect(); math.Abs(e+2.4) > 0.3 {
		t.Errorf("learned %.2f kPa a turn, want -2.4", e)
	}
	if turns := k.Turns(1.2); math.Abs(turns+0.53) > 0.05 { // the play first
		t.Errorf("1.2 kPa more: %v turns", turns)
	}
	card := learned.NewScrew(4)
	card.ObserveDirection(1, false, true)
	if card.DirectionKnown() {
		t.Error("a turn against the card leaves the direction known")
	}
	card.ObserveDirection(-1, true, true)
	if !card.DirectionKnown() || card.Effect() > 0 {
		t.Errorf("two turns against the card: %+v", card)
	}
	if card.ObserveDirection(1, true, true); card.DirectionKnown() {
		t.Errorf("then one against those: %+v", card)
	}
	if card.ObserveDirection(1, true, true); !card.DirectionKnown() || card.Effect() < 0 {
		t.Errorf("then another: %+v", card)
	}
}

// A cylinder that misfires is told until it is put aside, and no more once it was mended with the engine off.
func TestADoubtEndsWithAStandstill(t *testing.T) {
	b := newBench(4, 1)
	b.draw = []float64{25, 25, 25, 29}
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	misfires := func(every, cycles int) (r Reading, told int) {
		for k := range cycles {
			s := b.span()
			if every > 0 && k%every == 0 {
				s.Misfire[1] = true
			}
			if r = bal.Push(&s); r.Advice.Why == advice.WhyMisfires {
				told++
			}
		}
		return r, told
	}
	if r, told := misfires(8, 300); told == 0 || r.Advice.Why != advice.WhyMisfires {
		t.Errorf("told in %d cycles, and then %+v", told, r.Advice)
	}
	bal.GoOn()
	r, told := misfires(8, 100)
	if told > 0 || r.Cylinders[1].Doubt != advice.WhyMisfires || r.Advice.Kind == advice.Fault {
		t.Errorf("told in %d cycles, doubt %q, then %+v", told, r.Cylinders[1].Doubt, r.Advice)
	}
	for range 20 {
		bal.Push(&cycle.Span{Start: b.time, Period: 0.25, N: 4})
		b.time += 0.25
	}
	if r, told = misfires(0, 200); told > 0 || r.Cylinders[1].Doubt != "" {
		t.Errorf("mended, yet told in %d cycles, doubt %q", told, r.Cylinders[1].Doubt)
	}
}

// A screw that was named for a while may have its lock nut open when another is named, or all are looked at anew: it is
// not forgotten.
func TestTheNutOfAScrewThatWasLeft(t *testing.T) {
	for _, anew := range []bool{false, true} {
		b := newBench(4, 1)
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		left := untilTold(t, b, bal).Advice.Screw
		r := b.run(bal, 20, false)
		a, w := &bal.advisor, &bal.win
		if rest := w.atRest(); anew {
			a.choose(&r, w)
		} else {
			a.nameScrew((left+1)%len(b.bank.Screws), &rest, w)
		}
		if open := a.openNuts(); open != 1<<left {
			t.Errorf("screw %d was named, then left, all looked at anew %v: nuts %03b are open", left, anew, open)
		}
	}
}

// A key that comes sooner than a nut can be tightened was meant for the nut before.
func TestAKeyForTheNutBefore(t *testing.T) {
	b := newBench(4, 1)
	bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	b.run(bal, 20, false)
	a, w := &bal.advisor, &bal.win
	a.check.screws = 0b110
	a.askNut(1, w)
	bal.GoOn()
	a.askNut(2, w)
	b.run(bal, 8, false)
	if bal.GoOn(); a.openNuts() != 0b100 {
		t.Errorf("nuts %03b are open after a key 0.9 s after the second was asked for", a.openNuts())
	}
	b.run(bal, 8, false)
	if bal.GoOn(); a.openNuts() != 0 {
		t.Errorf("nuts %03b are open after a key 1.8 s after it was asked for", a.openNuts())
	}
}
