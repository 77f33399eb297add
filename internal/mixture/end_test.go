package mixture

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
)

// Screws that are set better leave the engine faster: where that ends outside the idle's range, the throttle stop
// brings it back before all counts as set.
func TestTheIdleIsBroughtBackAtTheEnd(t *testing.T) {
	all := 0
	for seed := range uint64(4) {
		s := newSynthetic(seed)
		s.best, s.base = []float64{0.5, 0.5, -0.5, 0.5}, 1100
		idle := NewIdleSpeed(IdleConfig{LowRPM: 960, HighRPM: 1060, EffectRPMPerTurn: s.stopRPMPerTurn})
		trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: synthOut}, idle)
		var moved [4]float64
		var st TrimState
		due, stop, stops := math.Inf(1), math.Inf(1), 0
		for s.now < 900 && st.Step != StepAllSet {
			p := s.span(&moved)
			is := idle.Push(p)
			st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
			a := &st.Advice
			switch screw, told := a.Cylinder-1, a.Turns > 0 && a.ToTurn(advice.PilotScrew); {
			case told && math.IsInf(due, 1):
				due = s.now + 4
			case told && s.now >= due:
				moved[screw], due = st.Goal, math.Inf(1)
				trim.Made()
			case a.ToTurn(advice.ThrottleStop) && math.IsInf(stop, 1):
				stop = s.now + 2
			case a.ToTurn(advice.ThrottleStop) && s.now >= stop:
				s.stop += a.SignedTurns()
				stop = s.now + 12
				stops++
			case !a.ToTurn(advice.ThrottleStop):
				stop = math.Inf(1)
			}
		}
		end := s.base + s.stop*s.stopRPMPerTurn + s.drift*s.now
		for i, b := range s.best {
			end += s.bend * (moved[i] - b) * (moved[i] - b)
		}
		t.Logf("seed %d: %s, %.0f rpm, %d turns of the stop, %.0f s", seed, st.Step, end, stops, s.now)
		if all += stops; st.Step != StepAllSet || end > 1060+8 || end < 960-8 {
			t.Errorf("seed %d: %s at %.0f rpm", seed, st.Step, end)
		}
	}
	if all == 0 {
		t.Error("the throttle stop was never told")
	}
}

// A screw that the speed does not answer to, and the probe in the exhaust of all does, is turned to the owner's lambda
// like any other; one that neither answers to is left.
func TestTheProbeCountsWhereTheSpeedDoesNot(t *testing.T) {
	for _, c := range []struct {
		found  Found
		answer float64
		screws int
	}{{AtPeak, 0.05, 4}, {Silent, 0.05, 4}, {Silent, leastAnswer / 2, 3}, {AtEnd, 0.05, 3}} {
		trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: synthOut, Target: 0.9},
			NewIdleSpeed(IdleConfig{}))
		trim.order = nil
		for i := range 4 {
			trim.state.Pilots[i].Found, trim.shift.answer[i] = AtPeak, 0.05
		}
		trim.state.Pilots[2].Found, trim.shift.answer[2] = c.found, c.answer
		if !trim.beginShift(0.98) || len(trim.order) != c.screws || trim.state.Advice.Turns == 0 {
			t.Errorf("%s, %g a turn: %d screws: %+v", c.found, c.answer, len(trim.order), trim.state.Advice)
		}
	}
}

// An engine that idles slower after a rest is brought back by the throttle stop: that takes nothing of what is told of
// the screws that were set before.
func TestARestTakesNothingOfWhatIsTold(t *testing.T) {
	for seed := range uint64(4) {
		s := newSynthetic(seed)
		s.base = 1000
		idle := NewIdleSpeed(IdleConfig{LowRPM: 950, HighRPM: 1150, EffectRPMPerTurn: s.stopRPMPerTurn})
		budget := heat.State{Seconds: 120}
		trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: synthOut}, idle)
		var moved [4]float64
		var st TrimState
		rested, brought, stop := false, 0, math.Inf(1)
		for s.now < 1500 && st.Step != StepAllSet {
			p := s.span(&moved)
			if st.Step == StepRest { // the hand stops it
				if *p = (cycle.Span{Start: p.Start, Period: p.Period, N: 4}); !rested {
					rested = true
					s.base -= 100
				}
				budget.Stand(p.Period)
			} else {
				budget.Run(p.Period, 1)
			}
			is := idle.Push(p)
			st = trim.Push(p, &is, math.NaN(), &budget)
			switch {
			case st.Step == StepTurn || st.Step == StepSet:
				madeAtOnce(trim, &st, &moved)
			case !st.Advice.ToTurn(advice.ThrottleStop):
				stop = math.Inf(1)
			case math.IsInf(stop, 1):
				stop = s.now + 2
			case s.now >= stop:
				s.stop += st.Advice.SignedTurns()
				stop = s.now + 12
				if rested {
					brought++
				}
			}
		}
		if !rested || brought == 0 || st.Step != StepAllSet {
			t.Errorf("seed %d: rested %v, %d turns of the stop, %s", seed, rested, brought, st.Step)
		}
		for i := range 4 {
			if p := &st.Pilots[i]; math.IsNaN(p.Uncertainty) {
				t.Errorf("seed %d: %+v", seed, p)
			}
		}
	}
}
