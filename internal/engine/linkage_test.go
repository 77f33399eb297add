package engine

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/frame"
)

// still has screws of a known effect.
func still(habits ...ScrewHabit) Config {
	c := level(4)
	c.Running = false
	c.Screws = habits
	return c
}

// Play: after a change of direction the plates follow later, by the play, and end where
// half of it is missing either way.
func TestPlay(t *testing.T) {
	e := New(still(ScrewHabit{Effect: 3, Play: 0.2}))
	area := func() float64 { return e.cylinder[0].area }
	start := area()
	e.Turn(0, 0.05) // within half the play
	runFor(t, e, 1)
	if area() != start {
		t.Error("plates move within the play")
	}
	e.Turn(0, 0.45)
	runFor(t, e, 2)
	there := area()
	e.Turn(0, -0.2)
	runFor(t, e, 2)
	if !(there < start) || math.Abs(area()/there-1) > 1e-3 {
		t.Errorf("area %v, then %v, and within the play %v", start, there, area())
	}
	e.Turn(0, -0.2)
	runFor(t, e, 2)
	if !(area() > there) {
		t.Error("plates do not come back")
	}
}

// A stiff screw's plates move in jerks, and end within one of where they should.
func TestStiffScrew(t *testing.T) {
	e := New(still(ScrewHabit{Effect: 3, Jerk: 0.15}))
	seen := map[float64]bool{}
	e.Turn(0, 1)
	for range 200 {
		runFor(t, e, 0.01)
		seen[e.cylinder[0].area] = true
	}
	if len(seen) < 6 || len(seen) > 9 {
		t.Errorf("%d positions on the way, jerks of 0.15 turns make 7", len(seen))
	}
	if s := &e.linkage.screws[0]; math.Abs(s.plateTurns-s.at) > 0.15 {
		t.Errorf("plates stand at %v of %v turns", s.plateTurns, s.at)
	}
}

// A lock nut shifts a setting a little, never by more than it may, either way, and turns
// nothing that is counted.
func TestLockNut(t *testing.T) {
	e := New(still(ScrewHabit{Effect: 3}))
	up, down := 0, 0
	for range 50 {
		before := e.linkage.screws[0].nut
		e.LockNut(0)
		switch d := e.linkage.screws[0].nut - before; {
		case math.Abs(d) > defaultLockNutTurns || d == 0:
			t.Fatalf("shifts by %v turns", d)
		case d > 0:
			up++
		default:
			down++
		}
	}
	area := e.cylinder[0].area
	runFor(t, e, 0.1)
	truth := e.Truth()
	if up < 10 || down < 10 || truth.TurnsMade != 0 || truth.ScrewTurns[0] != 0 || e.cylinder[0].area == area {
		t.Errorf("%d up, %d down, area %v to %v, %+v", up, down, area, e.cylinder[0].area, truth)
	}
	e.LockNut(9)
	e.LockNut(-1)
}

// A screw's effect can be given, whatever the card in Bank says, and is not quite in
// proportion to the turns.
func TestGivenEffect(t *testing.T) {
	c := level(4)
	c.Screws = []ScrewHabit{{}, {Effect: -4}}
	c.Bank.Screws[1].EffectKPaPerTurn = 5
	e := New(c)
	if got := e.Truth().ScrewEffect[1]; got != -4 {
		t.Fatalf("effect %v", got)
	}
	beside := func() float64 {
		runFor(t, e, 3)
		a := observe(t, e, 2)
		return a.draw[3] - a.draw[2]
	}
	start := beside()
	e.Turn(1, 0.5)
	half := beside() - start
	e.Turn(1, 1)
	whole := beside() - start
	if half > -1.2 || half < -2.6 {
		t.Errorf("half a turn changes the draw by %.2f kPa, nominal -2", half)
	}
	if ratio := whole / half / 3; math.Abs(ratio-1) < 0.005 || math.Abs(ratio-1) > 0.4 {
		t.Errorf("three times the turns change it by %.3f times as much a turn", ratio)
	}
}

// Other linkages: a screw for every carburettor but the root, any firing.
func TestIndividualScrews(t *testing.T) {
	s, ok := ScenarioNamed("vee-four")
	if !ok {
		t.Fatal("no vee four")
	}
	c := s.Config(1)
	c.Level, c.Alike, c.Smooth, c.Running = true, true, true, true
	e := New(c)
	before := observe(t, e, 2)
	e.Turn(1, 0.4)
	runFor(t, e, 4)
	after := observe(t, e, 2)
	for i := range 4 {
		moved := math.Abs(after.draw[i]-before.draw[i]-(after.draw[0]-before.draw[0])) > 0.3
		if moved != (i == 2) {
			t.Errorf("screw 3: cylinder %d moved is %v", i+1, moved)
		}
	}
}

// A pilot screw's best setting gives most speed; out is richer with fuel screws, leaner
// with air screws; its ends hold.
func TestPilotScrews(t *testing.T) {
	for _, air := range []bool{false, true} {
		t.Run(fmt.Sprint("air ", air), func(t *testing.T) {
			c := level(2)
			c.AirScrews = air
			e := New(c)
			speed := func() float64 {
				runFor(t, e, 6)
				a := observe(t, e, 2)
				return a.rpm
			}
			best, lambda := speed(), e.Truth().Cylinders[0].Lambda
			e.TurnPilot(1, -0.7)
			out := speed()
			if l := e.Truth().Cylinders[0].Lambda; (l < lambda) == air ||
				math.Abs(e.Truth().Cylinders[1].Lambda-lambda) > 1e-9 {
				t.Errorf("air %v: out changes lambda from %.3f to %.3f", air, lambda, l)
			}
			e.TurnPilot(1, 1.4)
			in := speed()
			if best-out < 10 || best-in < 10 || best-out > 200 {
				t.Errorf("air %v: %.0f rpm at best, out %.0f, in %.0f", air, best, out, in)
			}
			e.TurnPilot(1, 100)
			e.TurnPilot(3, 1)
			e.TurnPilot(0, 1)
			runFor(t, e, 6)
			truth := e.Truth()
			if truth.Cylinders[0].PilotOut != 0 || truth.Moves != 3 || truth.TurnsMade < 2.1+0.7 {
				t.Errorf("%+v", truth)
			}
		})
	}
}

// Pilot screws that are off stand off by no more than asked for.
func TestPilotsOff(t *testing.T) {
	e := New(Config{Bank: bank.Default(4), Seed: 8, PilotsOff: 0.6})
	most := 0.0
	for _, c := range e.Truth().Cylinders {
		most = max(most, math.Abs(c.PilotOut-c.PilotBest))
	}
	if most > 0.6 || most < 0.1 {
		t.Errorf("off by %.2f turns", most)
	}
}

// The probe reads the mixture of its cylinder, or of all, late; of a standing engine air.
func TestProbe(t *testing.T) {
	for of := range 3 {
		c := level(2)
		c.Lambda, c.LambdaOf, c.Bits = true, of, 12
		e := New(c)
		e.TurnPilot(1, -0.5)
		r := frame.NewReader(e)
		read := func(n int) (lambda float64) {
			for range n {
				f, err := r.Read()
				if err != nil {
					t.Fatal(err)
				}
				lambda = minLambda + (float64(f.Counts[2])+0.5)/4096*(maxLambda-minLambda)
			}
			return lambda
		}
		got := read(4000)
		if b := r.Board(); len(b.Channels) != 3 || b.Channels[2].Role != frame.Lambda ||
			b.Channels[2].Unit != "lambda" ||
			b.Bits != 12 {
			t.Fatalf("%+v", b)
		}
		l := e.Truth().Cylinders
		want := []float64{2 / (1/l[0].Lambda + 1/l[1].Lambda), l[0].Lambda, l[1].Lambda}[of]
		if math.Abs(got-want) > 0.003 {
			t.Errorf("probe of %d reads %.3f, true %.3f", of, got, want)
		}
		e.Stop()
		if got := read(5000); got < 1.49 {
			t.Errorf("a standing engine's exhaust reads %.2f", got)
		}
	}
}
