package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// silentHand lets a hand that is told nothing else turn a screw whose plates do not answer, until it is told to
// stop for that.
func silentHand(t *testing.T, b *bench, st *Balance) Reading {
	t.Helper()
	for range 800 {
		s := b.span()
		if r := st.Push(&s); r.Advice.Why == advice.WhyNoAnswer {
			return r
		}
	}
	t.Fatal("never told to stop")
	return Reading{}
}

// A screw that was named where nobody saw it has its lock nut tight still; one that was seen to be named may not.
func TestANutIsNotOpenedUnseen(t *testing.T) {
	for _, seen := range []bool{false, true} {
		b := newBench(4, 21)
		b.scatter = 0.03
		st := New(Config{Bank: b.bank, Ambient: 101.3})
		if seen {
			st.AskAnew()
		}
		if r := silentHand(t, b, st); st.advisor.openNuts() == 0 || r.Loose != 0 {
			t.Fatalf("nuts %b may be open, %b are", st.advisor.openNuts(), r.Loose)
		}
		st.AskAnew()
		s := b.span()
		if st.Push(&s); (st.advisor.openNuts() != 0) != seen {
			t.Errorf("seen %v: nuts %b may be open", seen, st.advisor.openNuts())
		}
	}
}

// The word to stop a hand that nothing has answered stands however long that takes: no clock ends it.
func TestNoClockEndsAStop(t *testing.T) {
	b := newBench(4, 21)
	b.scatter = 0.03
	st := New(Config{Bank: b.bank, Ambient: 101.3})
	silentHand(t, b, st)
	for range 600 {
		s := b.span()
		if a := st.Push(&s).Advice; a.Kind != advice.Stop {
			t.Fatalf("%.1f s: %s %s", s.End(), a.Kind, a.Why)
		}
	}
	st.GoOn()
	s := b.span()
	if a := st.Push(&s).Advice; !a.ToTurn(advice.SyncScrew) {
		t.Errorf("after the key: %s %s", a.Kind, a.Why)
	}
}

// A hand that has to loosen a lock nut first, and begins 16 s after the word, is not told that nothing has answered: it
// has turned nothing yet. One with no nut to loosen is told so sooner, as it may be turning.
func TestALateHandIsWaitedFor(t *testing.T) {
	for _, c := range []struct {
		name   string
		effect float64 // on the card, kPa a turn; 0 is unknown
		noNuts bool
		waits  bool
	}{{name: "a try", waits: true}, {name: "an amount", effect: 20, waits: true},
		{name: "far off", effect: 3, waits: true}, {name: "until told to stop", effect: 3, noNuts: true},
		{name: "no lock nuts", effect: 20, noNuts: true}} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(2, 24)
			b.scatter, b.draw[0], b.draw[1], b.bank.NoLockNuts = 0.03, 22, 27, c.noNuts
			b.bank.Screws[0].EffectKPaPerTurn = c.effect
			st := New(Config{Bank: b.bank, Ambient: 101.3})
			r := untilTold(t, b, st)
			lone := c.effect == 3 && c.noNuts
			if !r.Advice.ToTurn(advice.SyncScrew) || math.IsNaN(r.Advice.Turns) != lone {
				t.Fatalf("told %s %s, %.3f turns", r.Advice.Kind, r.Advice.Why, r.Advice.Turns)
			}
			stopped := false
			for end := b.time + 16; b.time < end; {
				s := b.span()
				stopped = stopped || st.Push(&s).Advice.Kind == advice.Stop
			}
			if stopped == c.waits {
				t.Errorf("told to stop within 16 s: %v", stopped)
			}
		})
	}
}

// A try of an eighth at a screw whose lock nut is open, which its play swallows, is followed by another try: no word to
// stop comes before half a turn was told.
func TestATryThatPlaySwallows(t *testing.T) {
	b := newBench(2, 24)
	b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
	st := New(Config{Bank: b.bank, Ambient: 101.3})
	st.advisor.check.screws = 1
	told := []float64{}
	for a := untilTold(t, b, st).Advice; a.Kind != advice.Stop; {
		if n := len(told); n == 0 || told[n-1] != a.Turns {
			told = append(told, a.Turns)
		}
		s := b.span()
		a = st.Push(&s).Advice
	}
	if b.time < 12 || len(told) < 2 || told[len(told)-1] <= mostTry {
		t.Errorf("told to stop after %.1f s, after tries of %v turns", b.time, told)
	}
}

// Where the plates answer at last, that word stands until they are at rest, and nothing is learned of the screw: the
// hand may have turned either way. Then the screws are told anew. A blip shows too that the hand is off.
func TestAStopEndsWithTheHand(t *testing.T) {
	for name, late := range map[string]float64{"quickly": 0.1, "slowly": 0.03, "back": -0.05} {
		t.Run(name, func(t *testing.T) {
			b := newBench(2, 24)
			b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
			st := New(Config{Bank: b.bank, Ambient: 101.3})
			silentHand(t, b, st)
			for k := range 60 {
				s := b.span()
				if a := st.Push(&s).Advice; a.Kind != advice.Stop {
					t.Fatalf("%d cycles: %s %s while it turns", k, a.Kind, a.Why)
				}
				b.draw[1] -= late
			}
			told := false
			for range 40 {
				s := b.span()
				a := st.Push(&s).Advice
				told = told || a.ToTurn(advice.SyncScrew)
			}
			if effect := st.Effects()[0]; !told || effect != 0 {
				t.Errorf("told to turn anew: %v; an effect of %.2f", told, effect)
			}
		})
	}
	t.Run("blip", func(t *testing.T) {
		b := newBench(2, 23)
		b.scatter = 0.03
		st := New(Config{Bank: b.bank, Ambient: 101.3})
		silentHand(t, b, st)
		b.blip = 16
		var a advice.Advice
		for range 60 {
			s := b.span()
			a = st.Push(&s).Advice
		}
		if !a.ToTurn(advice.SyncScrew) {
			t.Errorf("%s %s", a.Kind, a.Why)
		}
	})
}

// Where a lock nut is to be loosened the word to stop comes after 15 s at the earliest, and after the key as late as
// the first time: a spanner is to be found.
func TestAHandWithASpannerIsWaitedFor(t *testing.T) {
	for _, effect := range []float64{0, 3, 20} {
		for _, quick := range []bool{false, true} {
			b := newBench(2, 24)
			b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
			b.bank.Screws[0].EffectKPaPerTurn = effect
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			if quick { // its hand has been at the screws in no time
				for range 5 {
					st.advisor.hand.ObserveReach(0.8, false)
					st.advisor.hand.ObserveReach(0.6, true)
				}
				st.advisor.hand.Pace = 0.5
			}
			first := 0.0
			for k := range 3 {
				from := untilTold(t, b, st).Time
				took := silentHand(t, b, st).Time - from
				if took < 15 || took < first-0.5 {
					t.Errorf("%g kPa a turn, quick %v: told to stop after %.1f s, then %.1f s (%d)", effect, quick,
						first, took, k)
				}
				if k == 0 {
					first = took
				}
				st.GoOn()
			}
		}
	}
}

// A hand that is told more of the screw that it has in hand has 15 s too, where it has keys: its spanner may lie
// elsewhere by then.
func TestAScrewInHandIsWaitedFor(t *testing.T) {
	told := 0
	for seed := range uint64(8) {
		for _, noNuts := range []bool{false, true} {
			b := newBench(2, seed)
			b.scatter, b.draw[0], b.draw[1], b.bank.NoLockNuts = 0.03, 21, 29, noNuts
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			a := &st.advisor
			for end := b.time + 90; b.time < end && (a.phase != asking || a.anew); {
				b.run(st, 1, true)
			}
			if a.phase != asking {
				continue // it came level in one go
			}
			b.left = 0
			word, why := 0.0, advice.Why("")
			for end := b.time + 60; b.time < end && why != advice.WhyNoAnswer; {
				if a.phase == asking {
					word = a.phaseTime
				}
				why = b.run(st, 1, false).Advice.Why
			}
			if why != advice.WhyNoAnswer {
				continue
			}
			if told++; b.time-word < leastPatience {
				t.Errorf("seed %d, no nuts %v: told to stop %.1f s after the word", seed, noNuts, b.time-word)
			}
		}
	}
	if told == 0 {
		t.Error("never told to stop")
	}
}

// A screw that has answered is not told to have changed nothing as the hand rests, and no hand is sent back that has
// turned the right way.
func TestAHandThatRests(t *testing.T) {
	for _, noNuts := range []bool{false, true} {
		b := newBench(2, 24)
		b.scatter, b.draw[0], b.draw[1], b.bank.NoLockNuts = 0.03, 20, 30, noNuts
		b.bank.Screws[0].EffectKPaPerTurn = 3
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		untilTold(t, b, st)
		b.run(st, 24, false)
		for range 40 { // the hand turns for a while
			b.draw[1] -= 0.03
			b.run(st, 1, false)
		}
		told := math.NaN()
		for end := b.time + 30; b.time < end; {
			s := b.span()
			a := st.Push(&s).Advice
			if a.Kind == advice.Stop || !b.bank.NoLockNuts && a.Kind == advice.Reverse {
				t.Fatalf("no nuts %v: %s %s, %.1f s before the end", noNuts, a.Kind, a.Why, end-b.time)
			}
			told = a.Turns
		}
		if math.IsNaN(told) {
			t.Errorf("no nuts %v: no amount", noNuts)
		}
	}
}

// A screw that is named again and does not answer again is told so, and not as at the first time; once it has
// answered, that is forgotten.
func TestAScrewThatDoesNotAnswerAgain(t *testing.T) {
	b := newBench(2, 24)
	b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
	st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	unanswered := func() advice.Advice {
		st.AskAnew()
		untilTold(t, b, st)
		return silentHand(t, b, st).Advice
	}
	for time, again := range []bool{false, true, true} {
		if a := unanswered(); a.Again != again {
			t.Errorf("time %d: again %v", time+1, a.Again)
		}
	}
	st.AskAnew()
	untilTold(t, b, st)
	for range 10 {
		b.draw[1] -= 0.2
		b.run(st, 1, false)
	}
	if b.run(st, 20, false); st.advisor.mute != 0 {
		t.Error("it has answered, and that is not known")
	}
}

// What a levelling was stopped for is withdrawn once the engine has stood because of it, and a look at the bank finds
// it sound: not where the idle is still low, nor where the engine never stood, nor of a screw that stands far still.
func TestADoubtIsWithdrawnAfterALook(t *testing.T) {
	for _, c := range []struct {
		name   string
		looked bool
		rpm    float64
		moved  float64
		want   Halts
	}{
		{"mended", true, 980, 0, Halts{LookedAgain: true}},
		{"the idle is low", true, 800, 0, Halts{IdleFell: true, LookedAgain: true}},
		{"never stood", false, 980, 0, Halts{IdleFell: true, Far: 1}},
		{"far still", true, 980, 60, Halts{Far: 1, LookedAgain: true}},
	} {
		b := newBench(2, 1)
		b.bank.Screws[0].EffectKPaPerTurn = 10
		a := newAdvisor(&Config{Bank: b.bank})
		a.halts = halts{fellFrom: 1000, looked: c.looked, soFar: Halts{IdleFell: true, Far: 1}}
		a.halts.moved[0] = c.moved
		if a.lookAgain(c.rpm); a.halts.soFar != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, a.halts.soFar, c.want)
		}
	}
}

// A lock nut that was loosened for a screw counts as loose until it is asked for, also where the screw has come back to
// where it began.
func TestANutStaysLoose(t *testing.T) {
	var c check
	c.turned(1)
	a := advisor{bank: bank.Default(4), check: c}
	for name, then := range map[string]func(){"nothing": func() {}, "begun anew": func() { a.check.anew() },
		"another is turned": func() { a.check.turned(0) }, "back where it was": func() { a.halts.moved[1] = 0 }} {
		if then(); (a.openNuts()&a.check.moved)&2 == 0 {
			t.Errorf("after %s nuts %b are loose", name, (a.openNuts() & a.check.moved))
		}
	}
	a.check.nut = 1
	a.tighten(&window{})
	if (a.openNuts()&a.check.moved)&2 != 0 {
		t.Error("a nut that was tightened is loose")
	}
}

// The same at the bench: the idle falls while a screw is named, and is back once the engine has stood, or without that,
// or stays low.
func TestAnIdleThatFellIsLookedAtAgain(t *testing.T) {
	for _, c := range []struct {
		name   string
		stands bool
		slow   float64 // cycles are so many times as long afterwards
		want   Halts
	}{{"mended", true, 1, Halts{LookedAgain: true}}, {"raised by hand", false, 1, Halts{IdleFell: true}},
		{"as it was", true, 1.3, Halts{IdleFell: true}}} {
		b := newBench(2, 3)
		b.scatter, b.draw[0], b.draw[1] = 0.03, 24, 26
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		slow, fell := 1.0, false
		var r Reading
		for r.Advice.Kind != advice.Done && b.time < 300 {
			s := b.span()
			s.Period *= slow
			r = bal.Push(&s)
			switch {
			case fell:
				b.follow(r.Advice)
			case r.Advice.Why == advice.WhyIdleFell:
				for i := range 20 {
					if c.stands {
						bal.Push(&cycle.Span{Start: b.time + float64(i)/4, Period: 0.25, N: 2})
					}
				}
				b.time += 5
				fell, slow = true, c.slow
			case r.Advice.ToTurn(advice.SyncScrew) || slow > 1:
				slow = min(slow+0.01, 1.3)
			}
		}
		if !fell || r.Advice.Kind != advice.Done || r.Halts != c.want {
			t.Errorf("%s: fell %v, %s %s, %+v, want %+v", c.name, fell, r.Advice.Kind, r.Advice.Why, r.Halts, c.want)
		}
	}
}
