package mixture

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
)

// A trim that is gone on with at an engine that does not keep running where a pilot screw was left tells that screw
// back before it begins: not at the first stop, which may be a hand's, and not where no screw is in a trial position.
// Once it is back the trim begins with it, and keeps short of where the engine would not run.
func TestAnEngineThatDoesNotRunInATrialPosition(t *testing.T) {
	const at = 0.5 // how far off its place the screw was left, turns
	for _, moved := range []float64{at, -at, 0} {
		for _, corrected := range []bool{false, true} {
			t.Run(fmt.Sprintf("%+.2f, corrected %v", moved, corrected), func(t *testing.T) {
				goOnWhereItStalls(t, moved, corrected)
			})
		}
	}
}

// stalling is a trim that was left with one screw in a trial position, at an engine that is then cranked.
type stalling struct {
	b    *synthetic
	idle *IdleSpeed
	trim *Trim
	st   TrimState
}

const stallingLeft = 2 // the cylinder

func newStalling(moved float64) *stalling {
	idle := NewIdleSpeed(IdleConfig{LowRPM: 900, HighRPM: 1350})
	earlier := []Pilot{NewPilot(1, 2), NewPilot(2, 2), NewPilot(3, 2), NewPilot(4, 2)}
	earlier[stallingLeft-1].Found, earlier[stallingLeft-1].Moved = Trimming, moved
	return &stalling{b: newSynthetic(1), idle: idle, trim: NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews,
		TurnsOut: []float64{2, 2, 2, 2}, Earlier: earlier}, idle)}
}

func (s *stalling) push(span *cycle.Span) {
	is := s.idle.Push(span)
	s.st = s.trim.Push(span, &is, math.NaN(), &heat.State{Limit: 1e6})
}

func (s *stalling) stands(seconds float64) {
	for end := s.b.now + seconds; s.b.now < end; s.b.now += 0.25 {
		s.push(&cycle.Span{Start: s.b.now, Period: 0.25, N: 4})
	}
}

func (s *stalling) cranks() {
	for range 6 {
		s.push(&cycle.Span{Start: s.b.now, Period: 0.45, Cycle: true, N: 4})
		s.b.now += 0.45
	}
	s.stands(2)
}

// runs lets the engine idle, the hand following, until a setting is watched.
func (s *stalling) runs(t *testing.T) {
	t.Helper()
	var pilots [4]float64
	for s.b.now < 120 && s.st.Step != StepWatch {
		if s.push(s.b.span(&pilots)); s.st.Advice.ToTurn(advice.ThrottleStop) {
			s.b.stop += s.st.Advice.SignedTurns() / 8
		}
		if s.st.Step == StepTurn && s.trim.baseRPM == 0 || math.IsNaN(s.st.LeftS) && s.st.Step != StepIdle {
			t.Fatalf("step %v of a cylinder that was not begun", s.st.Step)
		}
		if s.st.Step == StepTurn {
			s.trim.Made()
		}
	}
	if s.st.Step != StepWatch || !(s.trim.baseRPM > 0) || math.IsNaN(s.st.LeftS) {
		t.Errorf("step %v at %.0f rpm, %.1f s left", s.st.Step, s.trim.baseRPM, s.st.LeftS)
	}
}

// goOnWhereItStalls has the screw stand moved turns off its place. Where it is corrected the hand says first that it
// made the whole way back, then that it was half of it.
func goOnWhereItStalls(t *testing.T, moved float64, corrected bool) {
	s := newStalling(moved)
	s.stands(2)
	if s.cranks(); s.st.Advice.Why != advice.WhyNoCycle {
		t.Errorf("after one stop %+v", s.st.Advice)
	}
	s.cranks()
	a := s.st.Advice
	if moved == 0 {
		if a.Why != advice.WhyNoCycle {
			t.Errorf("no screw in a trial position: %+v", a)
		}
		return
	}
	if !a.ToTurn(advice.PilotScrew) || a.Why != advice.WhyStalled || a.Cylinder != stallingLeft ||
		a.Turns != math.Abs(moved) || (a.Direction == advice.Clockwise) != (moved > 0) ||
		s.st.Cylinder != stallingLeft || s.st.Goal != 0 {
		t.Fatalf("%+v of cylinder %d to %+.2f", a, s.st.Cylinder, s.st.Goal)
	}
	s.stands(4)
	p := &s.trim.state.Pilots[stallingLeft-1]
	if !s.trim.Made() || p.InTrial() || p.StartOut != 2 {
		t.Fatalf("not turned back")
	}
	if corrected {
		if !s.trim.Correct(math.Abs(moved) / 2) {
			t.Fatal("not corrected")
		}
		s.stands(4)
		if a := s.st.Advice; a.Why != advice.WhyStalled || a.Turns != math.Abs(moved)/2 || !p.InTrial() {
			t.Fatalf("after the correction %+v", a)
		}
		if !s.trim.Made() || p.InTrial() {
			t.Fatal("the rest is not turned back")
		}
	}
	s.runs(t)
	if s.st.Cylinder != stallingLeft || moved > 0 && s.trim.highOut >= moved || moved < 0 && s.trim.lowOut <= moved {
		t.Errorf("the trim goes on with cylinder %d from %+.2f to %+.2f", s.st.Cylinder, s.trim.lowOut, s.trim.highOut)
	}
}
