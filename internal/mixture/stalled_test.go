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

// goOnWhereItStalls has the screw stand moved turns off its place. Where it is corrected the hand says first that it
// made the whole way back, then that it was half of it.
func goOnWhereItStalls(t *testing.T, moved float64, corrected bool) {
	const left = 2 // the cylinder
	b := newSynthetic(1)
	idle := NewIdleSpeed(IdleConfig{LowRPM: 900, HighRPM: 1350})
	earlier := []Pilot{newPilot(1, 2), newPilot(2, 2), newPilot(3, 2), newPilot(4, 2)}
	earlier[left-1].Found, earlier[left-1].Moved = Trimming, moved
	trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: []float64{2, 2, 2, 2},
		Earlier: earlier}, idle)
	var st TrimState
	push := func(s *cycle.Span) {
		is := idle.Push(s)
		st = trim.Push(s, &is, math.NaN(), &heat.State{Limit: 1e6})
	}
	stands := func(seconds float64) {
		for end := b.now + seconds; b.now < end; b.now += 0.25 {
			push(&cycle.Span{Start: b.now, Period: 0.25, N: 4})
		}
	}
	cranks := func() {
		for range 6 {
			push(&cycle.Span{Start: b.now, Period: 0.45, Cycle: true, N: 4})
			b.now += 0.45
		}
		stands(2)
	}
	stands(2)
	if cranks(); st.Advice.Why != advice.WhyNoCycle {
		t.Errorf("after one stop %+v", st.Advice)
	}
	cranks()
	a := st.Advice
	if moved == 0 {
		if a.Why != advice.WhyNoCycle {
			t.Errorf("no screw in a trial position: %+v", a)
		}
		return
	}
	if !a.ToTurn(advice.PilotScrew) || a.Why != advice.WhyStalled || a.Cylinder != left || a.Turns != math.Abs(moved) ||
		(a.Direction == advice.Clockwise) != (moved > 0) || st.Cylinder != left || st.Goal != 0 {
		t.Fatalf("%+v of cylinder %d to %+.2f", a, st.Cylinder, st.Goal)
	}
	stands(4)
	if p := &st.Pilots[left-1]; !trim.Made() || trim.state.Pilots[left-1].InTrial() || p.StartOut != 2 {
		t.Fatalf("not turned back")
	}
	if corrected {
		if !trim.Correct(math.Abs(moved) / 2) {
			t.Fatal("not corrected")
		}
		stands(4)
		if a := st.Advice; a.Why != advice.WhyStalled || a.Turns != math.Abs(moved)/2 || st.Cylinder != left {
			t.Fatalf("after the correction %+v of cylinder %d", a, st.Cylinder)
		}
		if !trim.Made() || trim.state.Pilots[left-1].InTrial() {
			t.Fatal("the rest is not turned back")
		}
	}
	var pilots [4]float64
	for b.now < 120 && st.Step != StepWatch {
		push(b.span(&pilots))
		if st.Step == StepTurn && trim.baseRPM == 0 || math.IsNaN(st.LeftS) && st.Step != StepIdle {
			t.Fatalf("step %v of a cylinder that was not begun", st.Step)
		}
		if st.Advice.ToTurn(advice.ThrottleStop) {
			b.stop += st.Advice.SignedTurns() / 8
		}
		if st.Step == StepTurn {
			trim.Made()
		}
	}
	if st.Step != StepWatch || !(trim.baseRPM > 0) || math.IsNaN(st.LeftS) {
		t.Errorf("step %v at %.0f rpm, %.1f s left", st.Step, trim.baseRPM, st.LeftS)
	}
	if st.Cylinder != left || moved > 0 && trim.highOut >= moved || moved < 0 && trim.lowOut <= moved {
		t.Errorf("the trim goes on with cylinder %d from %+.2f to %+.2f", st.Cylinder, trim.lowOut,
			trim.highOut)
	}
}
