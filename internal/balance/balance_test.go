package balance

import (
	"math"
	"slices"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

func TestFollowingTheAdviceLevelsTheBank(t *testing.T) {
	for n := 2; n <= 4; n++ {
		const banks = 100
		levelled, turns, seconds := 0, 0, 0.0
		for seed := range uint64(banks) {
			b := newBench(n, seed)
			bal := New(Config{Bank: b.bank, Ambient: 101.3})
			for b.time < 180 {
				s := b.span()
				r := bal.Push(&s)
				if r.Advice.Kind == advice.Done {
					if b.spread() > 0.7 {
						t.Errorf("%d cylinders, seed %d: done at a true spread of %.2f kPa", n, seed, b.spread())
					}
					levelled++
					turns += b.turns
					seconds += b.time
					break
				}
				if w := r.Advice.Why; w == advice.WhyFar || w == advice.WhyNoAnswer { // a lazy screw
					bal.GoOn()
				}
				b.follow(r.Advice)
			}
		}
		t.Logf("%d cylinders: %d of %d levelled, %.1f turns and %.0f s each", n, levelled, banks,
			float64(turns)/float64(levelled), seconds/float64(levelled))
		if levelled < banks {
			t.Errorf("%d cylinders: only %d of %d levelled", n, levelled, banks)
		}
	}
}

// untilTold runs a still bench until an advice other than wait comes.
func untilTold(t *testing.T, b *bench, bal *Balance) Reading {
	t.Helper()
	for range 200 {
		s := b.span()
		if r := bal.Push(&s); r.Advice.Kind != advice.Wait {
			return r
		}
	}
	t.Fatal("no advice in 200 cycles")
	return Reading{}
}

func TestTheLargestErrorComesFirst(t *testing.T) {
	b := newBench(4, 1)
	for name, draw := range map[string][]float64{
		"2-3": {20, 22, 30, 30}, // the pairs stand 9 apart, 1-2 only 2
		"1-2": {20, 27, 27, 28},
		"3-4": {24, 24, 25, 30},
	} {
		b.draw = draw
		r := untilTold(t, b, New(Config{Bank: b.bank, Ambient: 101.3}))
		if a := r.Advice; a.Kind != advice.Turn || a.ScrewName != name || a.Why != advice.WhyTry || a.Turns > mostTry {
			t.Errorf("draws %v: %+v, want to try screw %s a little", draw, a, name)
		}
	}
}

// What is told is less than all, by how well the effect is known; far off a screw of a slow effect is turned until told
// to stop, once its lock nut is open.
func TestKnownEffectGivesDirectionAndAmount(t *testing.T) {
	b := newBench(2, 1)
	for _, c := range []struct {
		off, effect float64
		way         advice.Direction
		turns       float64 // 0 is until told to stop
		noNuts      bool
	}{{1.5, 4, advice.Clockwise, 0.25, false}, {1.5, -4, advice.Anticlockwise, 0.25, false},
		{3, -12, advice.Anticlockwise, 0.1875, false}, {4, 3, advice.Clockwise, 0, true},
		{4, 3, advice.Clockwise, firstTurns, false}} {
		b.bank.NoLockNuts = c.noNuts
		b.draw = []float64{25 + c.off/2, 25 - c.off/2} // mean 25, where figures are not scaled
		b.bank.Screws[0].EffectKPaPerTurn = c.effect
		a := untilTold(t, b, New(Config{Bank: b.bank, Ambient: 101.3})).Advice
		told := a.Turns == c.turns || c.turns == 0 && math.IsNaN(a.Turns)
		if a.Kind != advice.Turn || a.Direction != c.way || !told {
			t.Errorf("%.1f kPa off, effect %v: %+v, want %v of a turn %s", c.off, c.effect, a, c.turns, c.way)
		}
	}
}

func TestWrongDirectionOnTheCardIsReversed(t *testing.T) {
	b := newBench(2, 1)
	b.draw = []float64{25, 21}
	b.effect[0], b.bank.Screws[0].EffectKPaPerTurn = 4, -4
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	reversed := false
	for b.time < 60 {
		s := b.span()
		r := bal.Push(&s)
		reversed = reversed || r.Advice.Kind == advice.Reverse
		if r.Advice.Kind == advice.Done {
			break
		}
		b.follow(r.Advice)
	}
	if !reversed || b.spread() > 0.7 || bal.Effects()[0] < 0 {
		t.Errorf("reversed %v, spread %.2f, effect %v", reversed, b.spread(), bal.Effects())
	}
	if b.travel > 3.25 { // this hand makes an amount again where the same word still stands
		t.Errorf("%.1f turns made", b.travel)
	}
}

func TestReasonsForWaiting(t *testing.T) {
	for _, c := range []struct {
		name  string
		cfg   Config
		spoil func(i int, s *cycle.Span)
		kind  advice.Kind
		why   advice.Why
	}{
		{"standing", Config{}, func(i int, s *cycle.Span) { s.Cycle = false }, advice.Wait, advice.WhyNoCycle},
		{"blipping", Config{}, func(i int, s *cycle.Span) { s.Period *= 1 - 0.03*float64(i%8) }, advice.Wait,
			advice.WhyNotSteady},
		{"few", Config{}, func(i int, s *cycle.Span) { s.Gap, s.Missing = i < 33, 0.03 }, advice.Wait,
			advice.WhyFewCycles},
		{"no zero", Config{OffsetBand: 1.5}, func(i int, s *cycle.Span) {}, advice.Wait, advice.WhyNoZero},
		{"hose off", Config{}, func(i int, s *cycle.Span) { s.State[2] = cycle.Ambient }, advice.Fault,
			advice.WhyChannel},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(4, 3)
			b.draw = []float64{25, 23.5, 26, 24}
			c.cfg.Bank, c.cfg.Ambient = b.bank, 101.3
			bal := New(c.cfg)
			var r Reading
			for i := range 40 {
				s := b.span()
				c.spoil(i, &s)
				r = bal.Push(&s)
			}
			if r.Advice.Kind != c.kind || r.Advice.Why != c.why {
				t.Errorf("%+v, want %s %s", r.Advice, c.kind, c.why)
			}
			if c.kind == advice.Fault && r.Advice.Cylinder != 3 {
				t.Errorf("cylinder %d", r.Advice.Cylinder)
			}
		})
	}
}

func TestCommonPressureChangesNothing(t *testing.T) {
	run := func(add pressure.KPa) (r Reading) {
		b := newBench(4, 5)
		bal := New(Config{Bank: b.bank, Ambient: 101.3 + add})
		for range 50 {
			s := b.span()
			for c := range s.N {
				s.Mean[c] += add
			}
			r = bal.Push(&s)
		}
		return r
	}
	p, q := run(0), run(5)
	if math.Abs(float64(p.Spread-q.Spread)) > 1e-9 || p.Advice.Screw != q.Advice.Screw ||
		p.Advice.Kind != q.Advice.Kind {
		t.Errorf("%v %+v\n%v %+v", p.Spread, p.Advice, q.Spread, q.Advice)
	}
}

func TestIntervalHoldsTheTruth(t *testing.T) {
	inside, trials := 0, 2000
	for seed := range uint64(trials) {
		b := newBench(2, seed)
		b.draw = []float64{25, 25.4}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		var r Reading
		for range 40 {
			s := b.span()
			r = bal.Push(&s)
		}
		c := r.Cylinders[1]
		if math.Abs(float64(c.Difference)-0.4) <= float64(c.Uncertainty) {
			inside++
		}
	}
	share := 100 * float64(inside) / float64(trials)
	t.Logf("interval holds the truth in %.1f %%", share)
	if share < 93 || share > 99 {
		t.Errorf("interval holds the truth in %.1f %%, want about 95", share)
	}
}

// A step of a screw shows within two cycles, whatever came before.
func TestStepShowsWithinTwoCycles(t *testing.T) {
	for seed := range uint64(50) {
		b := newBench(4, seed)
		b.scatter = 0.03
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		for range 60 {
			s := b.span()
			bal.Push(&s)
		}
		step := 1.0
		if seed%2 == 1 {
			step = -0.4
		}
		before := b.draw[2] - b.draw[0]
		b.draw[2] += step
		var r Reading
		for range 2 {
			s := b.span()
			r = bal.Push(&s)
		}
		if got := float64(r.Cylinders[2].Difference) - before; math.Abs(got-step) > 0.12 {
			t.Errorf("seed %d: a step of %.1f kPa reads %.2f after two cycles", seed, step, got)
		}
	}
}

// One odd cycle, a misfire, does not restart the averaging.
func TestOneOddCycleIsNoChange(t *testing.T) {
	b := newBench(4, 2)
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	for k := range 80 {
		s := b.span()
		if k == 60 {
			s.Mean[1] += 5
		}
		if r := bal.Push(&s); k >= 60 && r.Cycles < k-10 {
			t.Fatalf("cycle %d: the window holds %d cycles", k, r.Cycles)
		}
	}
}

// A channel that does not measure its cylinder counts in no difference.
func TestFaultyChannelsAreLeftOut(t *testing.T) {
	b := newBench(4, 6)
	b.draw = []float64{25, 0, 26, 24}
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	run := func(reference int) (r Reading) {
		bal.SetReference(reference)
		for range 20 {
			s := b.span()
			s.State[1] = cycle.Ambient
			r = bal.Push(&s)
		}
		return r
	}
	r := run(1)
	if d := r.Cylinders[1].Difference; d == d || math.Abs(float64(r.Spread)-2) > 0.2 {
		t.Errorf("difference %v of a hose that is off, spread %v", d, r.Spread)
	}
	if left := r.LeftOut(); !slices.Equal(left, []int{2}) {
		t.Errorf("the spread leaves out %v", left)
	}
	if d := float64(r.Cylinders[2].Difference); math.Abs(d-1) > 0.2 {
		t.Errorf("difference %v of a sound channel", d)
	}
	if d := run(2).Cylinders[2].Difference; d == d {
		t.Errorf("difference %v from a reference whose hose is off", d)
	}
	s := b.span()
	s.State[1], s.State[2], s.State[3] = cycle.Ambient, cycle.Ambient, cycle.Ambient
	if r := bal.Push(&s); r.Spread == r.Spread {
		t.Errorf("spread %v of one sound cylinder", r.Spread)
	}
}
