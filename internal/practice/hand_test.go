package practice

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
)

// A hand that was told which screw comes next is at it sooner, at the one it has left later, and at a third as late as
// one that was told nothing.
func TestAHandThatIsOnItsWay(t *testing.T) {
	four := bank.Default(4)
	for seed := range uint64(20) {
		mean := func(screw int, told bool) float64 {
			h := NewHand(engine.New(engine.Config{Bank: four}), &Normal, seed)
			if h.at = 0; told {
				h.setOff(10, 2)
			}
			return h.ready(11, screw) - 11
		}
		before := Normal.LeastReact + Normal.LeastReach
		if got := mean(2, true); got > mean(2, false)-Normal.LeastReact || got < Normal.LeastReact {
			t.Errorf("seed %d: %.2f s to the next screw", seed, got)
		}
		if got := mean(0, true); got < Normal.LeastReact+1 {
			t.Errorf("seed %d: %.2f s back", seed, got)
		}
		if got := mean(1, true); got < before {
			t.Errorf("seed %d: %.2f s to another", seed, got)
		}
	}
}

// A wary hand makes an amount by eighths, seconds apart, the word being the same, and no more of it than all.
func TestAHandThatMakesAmountsInParts(t *testing.T) {
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four})
	m := NewMechanic(NewHand(e, &Stepwise, 4), &four)
	a := advice.New(advice.Turn, advice.SyncScrew, advice.WhyUnlevel)
	a.Screw, a.Direction, a.Turns = 1, advice.Clockwise, 3.0/8
	rests, made, at := 0, 0.0, math.Inf(1) // at which it last moved
	buf := make([]byte, 512)
	for e.Truth().TimeS < 20 && rests < 3 {
		e.Read(buf)
		m.Pass(e.Truth().TimeS)
		m.Look(&a)
		if now := e.Truth().ScrewTurns[1]; now != made {
			made, at = now, e.Truth().TimeS
		}
		if most := (1+Normal.TurnError)/8 + Normal.AngleError; rests == 0 && made > most {
			t.Fatalf("%.3f turns before the first rest", made)
		}
		if e.Truth().TimeS > at+1 {
			rests, at = rests+1, math.Inf(1)
		}
	}
	if rests != 3 || math.Abs(made-a.Turns) > Normal.TurnError*a.Turns {
		t.Errorf("%.3f turns in %d parts", made, rests)
	}
}

// All of what was turned last is an amount: a hand that has taken it back waits, whether that stands or it is told to
// go on.
func TestAHandTakesBackItsLastTurnOnce(t *testing.T) {
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four})
	m := NewMechanic(NewHand(e, &Normal, 1), &four)
	buf := make([]byte, 512)
	follow := func(a advice.Advice, seconds float64) float64 {
		for end := e.Truth().TimeS + seconds; e.Truth().TimeS < end; m.Look(&a) {
			e.Read(buf)
			m.Pass(e.Truth().TimeS)
		}
		return e.Truth().ScrewTurns[1]
	}
	a := advice.New(advice.Turn, advice.SyncScrew, advice.WhyUnlevel)
	a.Screw, a.Direction, a.Turns = 1, advice.Clockwise, 1.0/4
	made := follow(a, 6.5) // no longer, or it is made again
	a.Kind, a.Why, a.Direction, a.Turns = advice.Reverse, advice.WhyTurnBack, advice.UnknownWay, math.NaN()
	follow(a, 2)
	if a.Kind, a.Why = advice.Turn, advice.WhyKeepOn; made < 0.15 {
		t.Fatalf("%.3f turns made", made)
	}
	if left := follow(a, 6); math.Abs(left) > Normal.TurnError*made+Normal.AngleError {
		t.Errorf("%.3f turns made, %.3f left once they were taken back", made, left)
	}
}
