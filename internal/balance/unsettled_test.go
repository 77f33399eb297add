package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/learned"
)

// spanAt is the next cycle, at so many times the usual speed.
func (b *bench) spanAt(speed float64) cycle.Span {
	s := b.span()
	b.time += s.Period/speed - s.Period
	s.Period /= speed
	return s
}

// After a blip a bank is told to be level once the speed is back, however well it is within the aim.
func TestLevelIsToldOnceTheSpeedIsBack(t *testing.T) {
	for _, apart := range []float64{0.1, 0.3} {
		b, bal := levelTwin(t)
		b.scatter = 0.03
		b.until(t, bal, advice.WhyBlip)
		b.draw[1] = b.draw[0] + apart
		over := 1.5
		for k := 0; ; k++ {
			over = 1.5 * math.Exp(-float64(k)/11)
			s := b.spanAt(1 + over)
			r := bal.Push(&s)
			if r.Advice.Kind == advice.Done {
				if !r.Steady || over > 2*steadyBack {
					t.Errorf("%.2f kPa apart: level told at %.0f %% above the idle, steady %v", apart, 100*over,
						r.Steady)
				}
				break
			}
			if k > 300 {
				t.Fatalf("%.2f kPa apart: %+v in the end", apart, r.Advice)
			}
		}
		for range 100 { // it comes down, and the word stands
			over *= 0.96
			s := b.spanAt(1 + over)
			if r := bal.Push(&s); r.Advice.Kind != advice.Done {
				t.Fatalf("%.2f kPa apart: %+v after level", apart, r.Advice)
			}
		}
	}
}

// After a start the first screw is named while the speed still rises, and stays; not where the draws have yet to
// settle, the hoses are exchanged, or a lock nut is loose still.
func TestTheFirstScrewIsNamedWhileTheSpeedRises(t *testing.T) {
	for name, c := range map[string]struct {
		draws float64 // by how much one still moves, kPa a cycle, having been level
		hoses bool    // exchanged
		loose bool    // the lock nut of another screw
		early bool
	}{"sound": {early: true}, "a loose nut": {loose: true}, "draws that settle": {draws: 0.4},
		"exchanged hoses": {hoses: true}} {
		b := newBench(4, 21)
		b.scatter, b.draw = 0.03, []float64{25, 25, 25, 21}
		if c.draws > 0 {
			b.draw[3] = 25
		}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		if c.loose {
			bal.advisor.check.screws = 1
		}
		const moving = 14 // cycles
		named, unsteady, waits := -1, false, 0
		for k := range 60 {
			s := b.spanAt(1 - 0.3*math.Exp(-float64(k)/15))
			if k < moving {
				b.draw[3] -= c.draws
			}
			if c.hoses {
				s.DipAt[1], s.DipAt[2] = s.DipAt[2], s.DipAt[1]
			}
			switch r := bal.Push(&s); {
			case r.Advice.ToTurn(advice.SyncScrew) && named < 0:
				named, unsteady = k, !r.Steady
			case named >= 0 && c.draws > 0 && r.Advice.Why == advice.WhyFewCycles && waits < fewestCycles:
				waits++ // a quick hand may have moved them: they are read anew, once
			case named >= 0 && !r.Advice.ToTurn(advice.SyncScrew):
				t.Errorf("%s: %+v, cycle %d, though a screw was named at %d", name, r.Advice, k, named)
			}
		}
		early := unsteady && named >= 0 && named < moving
		if early != c.early || (c.hoses || c.loose) != (named < 0) {
			t.Errorf("%s: named in cycle %d, the speed moving: %v", name, named, unsteady)
		}
	}
}

// A fault that goes on in a moment takes no word's place before that was said; one that stays does.
func TestAWordIsSaidBeforeAPassingFault(t *testing.T) {
	for why, waits := range map[advice.Why]bool{advice.WhyHalfBlocked: true, advice.WhyMisfires: false} {
		b := newBench(4, 21)
		b.scatter = 0.03
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		named := untilTold(t, b, bal)
		bal.gate.faults.Found[1] = why
		for r := named; ; r = b.run(bal, 1, false) {
			said := r.Time - named.Time
			if r.Advice.Kind == advice.Fault {
				if waits != (said > saidSeconds) {
					t.Errorf("%s: %.2f s after the screw was named", why, said)
				}
				break
			}
			if said > 5 {
				t.Fatalf("%s never told", why)
			}
		}
	}
}

// Once the last lock nut is tight a bank well within the aim is blipped at once, one hardly off it is not.
func TestABlipIsAskedForAtOnce(t *testing.T) {
	for _, c := range []struct {
		apart float64 // kPa
		once  bool
	}{{0.1, true}, {0.6, false}} {
		b, bal := levelTwin(t)
		bal.advisor.keys = true
		b.scatter = 0.03
		b.draw[1] = b.draw[0] + c.apart
		b.run(bal, 6, false)
		bal.GoOn()
		if a := b.run(bal, recentCycles, false).Advice; c.once != (a.Why == advice.WhyBlip) {
			t.Errorf("%.1f kPa apart: %s %s", c.apart, a.Kind, a.Why)
		}
	}
}

// A hand is told to turn until told to stop only where it ends near level: not one that was seen to be quick, nor at a
// screw whose direction one movement alone tells, nor where it has passed level before.
func TestUntilToldToStopEndsNearLevel(t *testing.T) {
	for name, c := range map[string]struct {
		change func(a *advisor)
		amount bool
	}{
		"slow":        {func(a *advisor) {}, false},
		"quick":       {func(a *advisor) { a.hand.Quickest = 0.4 }, true},
		"seen once":   {func(a *advisor) { a.screws[0].Odds, a.screws[0].WaySeen = learned.OnceOdds, true }, true},
		"passed once": {func(a *advisor) { a.screws[0].Passed = true }, true},
	} {
		b := newBench(2, 1)
		b.bank.NoLockNuts, b.bank.Screws[0].EffectKPaPerTurn = true, 3
		a := New(Config{Bank: b.bank, Ambient: 101.3}).advisor
		a.hand.Quickest = 0.12
		c.change(&a)
		if adv := a.turnAdvice(0, 4); math.IsNaN(adv.Turns) == c.amount {
			t.Errorf("%s: %+v", name, adv)
		}
	}
}
