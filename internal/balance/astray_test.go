package balance

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/heat"
)

// With too little idling left for a look no check of a level bank is begun, and no lock nut loosened: the engine is to
// cool first. Where the limit is so short that a cool-down gives no more, they are.
func TestNothingIsBegunTooLate(t *testing.T) {
	for _, apart := range []float64{0, 4} {
		for _, c := range []struct {
			seconds, limit float64
			hot            bool
		}{{280, 300, false}, {295, 300, true}, {25, 30, true}, {15, 18, false}} {
			b := newBench(2, 1)
			b.scatter, b.draw = 0.05, []float64{25, 25 + apart}
			bal := New(Config{Bank: b.bank, Ambient: 101.3})
			bal.SetHeat(heat.State{Seconds: c.seconds, Limit: c.limit})
			if a := b.run(bal, 40, false).Advice; a.Kind == advice.Stop || (a.Why == advice.WhyHot) != c.hot {
				t.Errorf("%g kPa apart, %g of %g s: %s %s", apart, c.seconds, c.limit, a.Kind, a.Why)
			}
		}
	}
}

// A screw that was not named is to be turned back, until it is or the key is pressed: no clock ends that, no blip, and
// no other screw is named meanwhile.
func TestAScrewAstrayIsTurnedBack(t *testing.T) {
	for _, key := range []bool{false, true} {
		b := newBench(4, 5)
		b.scatter, b.draw = 0.03, []float64{27, 27, 23, 23}
		for s, e := range []float64{4, -4, 4} {
			b.bank.Screws[s].EffectKPaPerTurn, b.effect[s] = e, e
		}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		named := b.until(t, bal, advice.WhyUnlevel).Advice.Screw
		other := (named + 1) % 3
		b.run(bal, 8, false)
		move := func(kpa float64) {
			for _, c := range b.bank.Screws[other].Moves {
				b.draw[c-1] += kpa
			}
		}
		move(2)
		way := advice.WayOf(-2 * b.effect[other])
		a := b.until(t, bal, advice.WhyOtherScrew).Advice
		for k := range 300 {
			switch k {
			case 100:
				b.blip = 16
			case 200:
				move(-0.6)
			}
			s := b.span()
			if r := bal.Push(&s); k < 100 || k > 160 {
				a = r.Advice
			}
			if a.Why != advice.WhyOtherScrew || a.Screw != other || a.Direction != way {
				t.Fatalf("key %v, cycle %d: %s %s %s", key, k, a.Kind, a.Why, a.Direction)
			}
		}
		if key {
			bal.GoOn()
		} else {
			move(-1.4)
		}
		if a := b.run(bal, 24, false).Advice; !a.ToTurn(advice.SyncScrew) || !key && a.Screw != named {
			t.Errorf("key %v: then %s %s %s", key, a.Kind, a.Why, a.ScrewName)
		}
	}
}

// A hand that turns the screw that was named a moment before has heard that word: it is not told to turn it back.
func TestAScrewNamedJustBeforeIsNotAstray(t *testing.T) {
	for _, c := range []struct {
		after  float64 // s
		before bool
	}{{1, true}, {4, true}, {1, false}} {
		b := newBench(4, 5)
		b.scatter, b.draw = 0.03, []float64{28, 24, 22, 26}
		for s, e := range []float64{4, -4, 4} {
			b.bank.Screws[s].EffectKPaPerTurn, b.effect[s] = e, e
		}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		named := b.until(t, bal, advice.WhyUnlevel).Advice.Screw
		b.run(bal, 8, false)
		rest := bal.win.lately()
		bal.advisor.nameScrew((named+1)%3, &rest, &bal.win)
		if !c.before {
			bal.advisor.before = 0
		}
		b.run(bal, int(c.after/0.115), false)
		astray := false
		for k := range 60 {
			if k < 8 {
				for _, c := range b.bank.Screws[named].Moves {
					b.draw[c-1] += 0.2
				}
			}
			astray = astray || b.run(bal, 1, false).Advice.Why == advice.WhyOtherScrew
		}
		if astray == c.before {
			t.Errorf("%+v: astray %v", c, astray)
		}
	}
}

// A bank that is turned again after its blip, however little, is blipped again before it is level.
func TestABankTurnedAgainIsBlippedAgain(t *testing.T) {
	b, bal := levelTwin(t)
	b.until(t, bal, advice.WhyLevel)
	b.draw[1] = b.draw[0] + 0.9
	turned, blipped := false, false
	for range 600 {
		a := b.run(bal, 1, true).Advice
		turned = turned || a.ToTurn(advice.SyncScrew)
		blipped = turned && (blipped || a.Why == advice.WhyBlip)
		if turned && a.Kind == advice.Done {
			if !blipped {
				t.Error("done without another blip")
			}
			return
		}
	}
	t.Errorf("turned %v, never done again", turned)
}

// What moves while joints are wetted is no turn: no screw is to be turned back for it, then or later, and the screw is
// named anew.
func TestWhatMovesInAPauseIsNoTurn(t *testing.T) {
	for _, pause := range []bool{true, false} {
		b := newBench(4, 5)
		b.scatter, b.draw = 0.03, []float64{27, 27, 23, 23}
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		named := b.until(t, bal, advice.WhyTry).Advice
		b.run(bal, 8, false)
		bal.Pause(pause)
		astray := false
		for k := range 300 {
			if k > 20 && k <= 80 { // water on the joint of a cylinder, and gone again
				b.draw[3] += 0.06 * float64(1-2*((k-21)/30))
			}
			if k == 120 {
				bal.Pause(false)
			}
			a := b.run(bal, 1, false).Advice
			astray = astray || a.Why == advice.WhyOtherScrew
			if pause && (a.ToTurn(advice.SyncScrew) && k < 120 || k == 160 && a.Screw != named.Screw) {
				t.Fatalf("cycle %d: %s %s %s", k, a.Kind, a.Why, a.ScrewName)
			}
		}
		if astray == pause {
			t.Errorf("paused %v: another screw was told to have moved: %v", pause, astray)
		}
	}
}
