package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
)

// steppingHand makes what is told in steps, at a pace of its own, with a pause after each.
type steppingHand struct {
	step, pause, pace float64 // turns, s, turns a second
	at                advice.Advice
	left, moving      float64 // turns still to make: of what was told, and of this step
	way, last         float64 // which way; turns made of what was told, clockwise positive
	due               float64
	net               perScrew // turns made, clockwise positive
	deserted          []string // screws that were left for another while their nuts were open
	open              uint
}

// follow lets the hand act for one cycle of a bench.
func (h *steppingHand) follow(b *bench, st *Balance, a *advice.Advice) {
	const cycle = 0.115
	if h.moving > 0 {
		d := min(h.moving, h.pace*cycle)
		h.moving, h.left = h.moving-d, h.left-d
		d *= h.way
		h.last += d
		h.net[h.at.Screw] += d
		for _, c := range b.bank.Screws[h.at.Screw].Moves {
			b.draw[c-1] += d * b.effect[h.at.Screw]
		}
		if a.Kind == advice.Stop || a.Why == advice.WhyNuts || a.ToTurn(advice.SyncScrew) && a.Screw != h.at.Screw {
			h.moving, h.left = 0, 0 // it glances up
		}
		if h.due = b.time + h.pause; h.moving > 1e-9 {
			h.due = 0
		} else {
			h.moving = 0
		}
		return
	}
	switch {
	case b.time < h.due:
	case a.ToTurn(advice.SyncScrew):
		h.read(b, a)
	case a.Why == advice.WhyNuts || a.Kind == advice.Fault || a.Why == advice.WhyNoAnswer:
		if h.at, h.due = (advice.Advice{}), b.time+2; a.Why == advice.WhyNuts {
			h.open &^= 1 << a.Screw
		}
		st.GoOn()
	case a.Why == advice.WhyBlip:
		b.blip, h.due = 16, b.time+4
	}
}

// read takes an order to turn: a new one after a look, else the next step of the one at hand.
func (h *steppingHand) read(b *bench, a *advice.Advice) {
	old := &h.at
	same := old.Kind != "" && a.Screw == old.Screw && a.Direction == old.Direction
	goesOn := a.Direction == advice.UnknownWay && a.Screw == old.Screw && a.Why == advice.WhyKeepOn
	if goesOn {
		old.Why = a.Why
	}
	again := a.Direction == advice.UnknownWay && a.Why != old.Why
	if goesOn || same && !again && (a.Turns == old.Turns || math.IsNaN(a.Turns) && math.IsNaN(old.Turns)) {
		h.moving = min(h.step, max(h.left, 0))
		return
	}
	if old.Kind != "" && a.Screw != old.Screw && h.open>>old.Screw&1 == 1 {
		h.deserted = append(h.deserted, old.ScrewName+" for "+a.ScrewName)
	}
	h.at, h.due = *a, b.time+1.5
	h.way, h.left = turnOf(a, h.last)
	h.open, h.last = h.open|1<<a.Screw, 0
}

// steppingHands are a quarter to twice as quick as is assumed, with and without pauses.
var steppingHands = map[string]steppingHand{
	"eighths":         {step: 1.0 / 8, pause: 3.5, pace: 0.5},
	"slow eighths":    {step: 1.0 / 8, pause: 2, pace: learned.TurnPace / 2},
	"sixteenths":      {step: 1.0 / 16, pause: 2, pace: 0.25},
	"a quarter":       {step: 9, pause: 0.5, pace: learned.TurnPace / 4},
	"as quick":        {step: 9, pause: 0.5, pace: learned.TurnPace},
	"twice as quick":  {step: 9, pause: 0.5, pace: 2 * learned.TurnPace},
	"quick, in steps": {step: 1.0 / 4, pause: 5, pace: 2 * learned.TurnPace},
}

// Whatever the hand: no screw is said to have been turned far that was not, and what is told of its turns is about so.
func TestTurnsAreReckonedWithWhatIsNotKnownOfTheHand(t *testing.T) {
	told, made := 0, 0
	for name, hand := range steppingHands {
		for seed := range uint64(8) {
			b := newBench(4, seed)
			b.scatter = 0.04
			if seed%2 == 1 { // a card that is a fifth off
				for s, e := range b.effect {
					b.bank.Screws[s].EffectKPaPerTurn = e * (0.8 + 0.4*float64(s%2))
				}
			}
			st, h := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true}), hand
			for b.time < 240 {
				s := b.span()
				a := st.Push(&s).Advice
				if a.Kind == advice.Done {
					break
				}
				if net := math.Abs(h.net[max(a.Screw, 0)]); a.Why == advice.WhyFar && net < farTurns &&
					(!math.IsNaN(a.Turns) || net < farTurns/2) {
					t.Errorf("%s, seed %d: screw %s far at %.2f turns, told %.2f", name, seed, a.ScrewName, net,
						a.Turns)
				}
				h.follow(b, st, &a)
			}
			for s, seen := range st.Turned() {
				net := h.net[s]
				if math.Abs(net) > 0.25 {
					made++
				}
				if seen != 0 {
					told++
				}
				if seen != 0 && math.Abs(seen-net) > 0.6*math.Abs(net)+0.15 {
					t.Errorf("%s, seed %d: screw %d turned %.2f, told %.2f", name, seed, s, net, seen)
				}
			}
		}
	}
	if t.Logf("%d of %d told", told, made); told < made/5 {
		t.Errorf("of %d screws the turns of %d are told", made, told)
	}
}

// One screw is set and locked before another is named, in however many steps its hand makes what is told.
func TestNoScrewIsLeftLoose(t *testing.T) {
	for name, hand := range steppingHands {
		for seed := range uint64(8) {
			b := newBench(4, seed)
			b.scatter = 0.04
			if seed%2 == 1 {
				for s, e := range b.effect {
					b.bank.Screws[s].EffectKPaPerTurn = e * (0.8 + 0.4*float64(s%2))
				}
			}
			st, h := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true}), hand
			for done := false; b.time < 240 && !done; {
				s := b.span()
				if k := int(b.time / 0.115); k%90 < 2 { // the speed swings, as where a screw has moved it
					s.Period *= 1.2
				}
				a := st.Push(&s).Advice
				done = a.Kind == advice.Done
				h.follow(b, st, &a)
			}
			if len(h.deserted) > 0 {
				t.Errorf("%s, seed %d: left loose: %v", name, seed, h.deserted)
			}
		}
	}
}

// A screw that was surely turned by more than two turns is told so, by how many where that is known; one of which
// nothing is known but that it has moved the draw far is asked for.
func TestAScrewThatWasTurnedFar(t *testing.T) {
	for _, c := range []struct {
		name   string
		card   float64 // kPa a turn
		turned float64
		why    advice.Why
		told   bool
	}{{"sure", 2, 3.5, advice.WhyFar, true}, {"likely", 2, 2.6, advice.WhyFar, false}, {"near", 2, 1.5, "", false},
		{"unknown", 0, 1, "", false}} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(2, 24)
			b.scatter = 0.03
			b.bank.Screws[0].EffectKPaPerTurn = c.card
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			b.run(st, 20, false)
			a := &st.advisor
			a.screws[0].ObserveDirection(1, true, true)
			a.halts.moved[0] = c.turned * 2
			adv, stop := a.halted(0, &st.win)
			sure := stop && !math.IsNaN(adv.Turns)
			if stop != (c.why != "") || adv.Why != c.why || sure != c.told || a.halts.soFar.Far == 1 != c.told {
				t.Errorf("%s, %.2f turns; %+v", adv.Why, adv.Turns, a.halts.soFar)
			}
			if st.GoOn(); stop {
				if _, again := a.halted(0, &st.win); again {
					t.Error("told again after the key")
				}
			}
		})
	}
}

// Turns that may have been made while the engine stood are not known: what was made before is neither told nor summed
// with what comes after. Where the bank stands as it stood, it still counts.
func TestTurnsThatNobodySaw(t *testing.T) {
	const off, effect = 3.4, 2.0 // kPa, kPa a turn
	for name, back := range map[string]bool{"turned back": true, "left alone": false} {
		b, moves := knownTwin(effect, off)
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		level := func() {
			hand := onceHand{due: math.Inf(1)}
			for from := b.time; b.time < from+120; {
				a := b.run(st, 1, false).Advice
				hand.follow(b, &a)
				switch {
				case a.Why == advice.WhyFar:
					t.Fatalf("%s: far at %.2f turns, told %.2f", name, (b.draw[moves]-25+off/2)/effect, a.Turns)
				case a.Why == advice.WhyNuts && !st.advisor.check.nutTight:
					st.GoOn()
				case a.Kind == advice.Done && b.time > from+10:
					return
				}
			}
			t.Fatalf("%s: not level: %+v", name, st.told)
		}
		level()
		if seen := st.Turned()[0]; math.Abs(seen-off/effect) > 0.4 {
			t.Errorf("%s: %.2f turns, seen %.2f", name, off/effect, seen)
		}
		if b.stand(st, 5); back {
			b.draw[moves] -= off
		}
		level()
		if seen := st.Turned()[0]; back && seen != 0 || !back && math.Abs(seen-off/effect) > 0.4 {
			t.Errorf("%s: seen %.2f once it runs again", name, seen)
		}
	}
}

// A hand that makes amounts in part leaves no effect on the card; one that makes them leaves that of a lazy screw too.
func TestAmountsMadeInPartAreNoEffect(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		effect, made float64 // kPa a turn; the share of an amount that is turned
		told         []float64
		doubtful     bool
	}{
		{"as told", 5, 1, []float64{0.375, 0.25, 0.125}, false},
		{"a lazy screw", 2, 1, []float64{0.375, 0.75, 0.5}, false},
		{"a third of each", 4, 1.0 / 3, []float64{0.375, 0.375, 0.375, 0.375}, true},
		{"less and less", 4, 0.15, []float64{0.375, 0.875, 0.875, 0.625}, true},
		{"by STOP alone", 4, 1, nil, false},
	} {
		var r learned.Amounts
		for _, turns := range c.told {
			r.Push(c.effect*c.made*turns, turns)
		}
		if r.Doubtful(0) != c.doubtful {
			log, variance := r.Effect(0)
			t.Errorf("%s: %v, %.1f kPa a turn, variance %.2f", c.name, !c.doubtful, math.Exp(log), variance)
		}
	}
}
