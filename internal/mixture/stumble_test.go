package mixture

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/heat"
)

// stumbling is a trim of a four whose hand makes each turn three seconds after it is told, and whose speed the test
// bends.
type stumbling struct {
	*synthetic
	idle  *IdleSpeed
	trim  *Trim
	st    TrimState
	moved [4]float64
	made  float64 // when the turn that is told is made; infinite without one
	holds bool    // the hand makes no turn
	goal  float64
}

func newStumbling(seed uint64, cfg TrimConfig) *stumbling {
	r := &stumbling{synthetic: newSynthetic(seed), idle: NewIdleSpeed(IdleConfig{LowRPM: 700, HighRPM: 1400}),
		made: math.Inf(1)}
	cfg.Cylinders, cfg.Screws, cfg.TurnsOut = 4, FuelScrews, []float64{2, 2, 2, 2}
	r.trim = NewTrim(cfg, r.idle)
	return r
}

// run pushes cycles for so long or until something is so; add bends the speed, lambda is the probe's.
func (r *stumbling) run(seconds float64, until func() bool, add func() float64, lambda func() float64) bool {
	base := r.base
	defer func() { r.base = base }()
	for end := r.now + seconds; r.now < end; {
		if until() {
			return true
		}
		r.base = base + add()
		p := r.span(&r.moved)
		is := r.idle.Push(p)
		r.st = r.trim.Push(p, &is, lambda(), &heat.State{Limit: 1e6})
		a := &r.st.Advice
		told := a.ToTurn(advice.PilotScrew) && a.Turns > 0
		switch {
		case told && !r.holds && math.IsInf(r.made, 1):
			r.made, r.goal = r.now+3, r.st.Goal
		case told && r.now >= r.made && r.trim.Made():
			r.moved[a.Cylinder-1], r.made = r.goal, math.Inf(1)
		}
	}
	return until()
}

func none() float64   { return 0 }
func silent() float64 { return math.NaN() }

// While a setting is watched the speed falls by far more than a screw does: the hand is told back within two seconds,
// to a setting that ran, and never again that far.
func TestADyingEngineIsToldBackAtOnce(t *testing.T) {
	for seed := range uint64(6) {
		r := newStumbling(seed, TrimConfig{Only: []int{1}})
		lean := func() bool { return r.st.Step == StepWatch && r.moved[0] < 0 }
		fall := func() float64 { // a misfire beyond the setting that is told first on that side
			if r.moved[0] < -0.2 {
				return -400
			}
			return 0
		}
		if !r.run(200, lean, fall, silent) {
			t.Fatalf("seed %d: never leant", seed)
		}
		at, begun := r.moved[0], r.now
		back := func() bool { return r.st.Advice.Why == advice.WhyBack }
		if !r.run(2, back, fall, silent) || r.st.Goal <= at || r.st.Advice.Direction != advice.Anticlockwise {
			t.Fatalf("seed %d: after %.1f s at %.0f rpm: %+v", seed, r.now-begun, r.rpm, r.st.Advice)
		}
		ended := r.run(400, func() bool {
			if r.st.Step == StepTurn && r.st.Goal <= at {
				t.Fatalf("seed %d: told to %+.3f, it does not run at %+.3f", seed, r.st.Goal, at)
			}
			return r.st.Step == StepAllSet
		}, fall, silent)
		if p := &r.st.Pilots[0]; !ended || p.Best <= at || p.Moved <= at {
			t.Errorf("seed %d: ended %v, %+v", seed, ended, p)
		}
	}
}

// An Enter counts for the turn that stands, whatever the word is while the engine stumbles; and a turn that may have
// been made is not told anew but asked for.
func TestAnEnterWhileTheEngineStumbles(t *testing.T) {
	for _, presses := range []bool{true, false} {
		r := newStumbling(2, TrimConfig{Only: []int{1}})
		r.holds = true
		told := func() bool { return r.st.Step == StepTurn }
		if !r.run(60, told, none, silent) {
			t.Fatal("no turn told")
		}
		r.run(4, func() bool { return false }, none, silent)
		goal := r.st.Goal
		r.moved[0] = goal
		unsteady := func() bool { return r.st.Advice.Why == advice.WhyNotSteady }
		if !r.run(20, unsteady, func() float64 { return -900 }, silent) {
			t.Fatal("it does not stumble")
		}
		if presses {
			if !r.trim.Made() || r.trim.state.Pilots[0].Moved != goal {
				t.Fatal("the Enter is not heard")
			}
			continue
		}
		r.run(20, func() bool {
			if a := r.st.Advice; r.st.Step == StepTurn && a.Kind == advice.Turn && a.Why != advice.WhyTurned {
				t.Fatalf("told anew: %+v", a)
			}
			return false
		}, none, silent)
	}
}

// A screw that was set leaves the engine slower than foretold: the setting is not told as sure, with both speeds; where
// there is room for it, the screw is trimmed anew, and what is told then holds.
func TestASetScrewThatIsNotThere(t *testing.T) {
	for seed := range uint64(4) {
		r := newStumbling(seed, TrimConfig{})
		slow := 0.0
		if !r.run(900, func() bool {
			if r.st.Step == StepSet || r.st.Cylinder == 2 {
				slow = -120
			}
			return r.st.Cylinder == 3
		}, func() float64 { return slow }, silent) {
			t.Fatalf("seed %d: %+v", seed, r.st.Advice)
		}
		p := &r.st.Pilots[0]
		anew := p.SetRPM == 0 && p.Visits > 2 && math.Abs(p.Best-r.best[0]) <= p.Uncertainty
		told := !math.IsNaN(p.Uncertainty) || p.SetRPM > 0 // else nothing is told
		if p.Found != Unsure && p.Found != ToSet && !anew || p.Found == Unsure && !anew && told &&
			(p.SetRPM > p.ForetoldRPM-50 || p.SetRPM == 0) {
			t.Errorf("seed %d: %+v", seed, p)
		}
		if p := &r.st.Pilots[1]; p.SetRPM != 0 {
			t.Errorf("seed %d: %+v", seed, p)
		}
	}
}

// What the probe tells last, at the settings that were found, is the result, and whether that is the owner's lambda.
func TestTheAimIsToldAsItIs(t *testing.T) {
	for _, c := range []struct {
		target float64
		least  float64 // of what the exhaust can be
		found  Found
	}{{0.95, 0.5, AtTarget}, {1.2, 0.5, OffAim}} {
		r := newStumbling(3, TrimConfig{Target: c.target})
		lambda := func() float64 { // leaner inwards, and not beyond a limit
			sum := 0.0
			for _, m := range r.moved {
				sum += m
			}
			return min(0.9-0.05*sum, 1.02)
		}
		if !r.run(900, func() bool { return r.st.Step == StepAllSet }, none, lambda) {
			t.Fatalf("not done: %+v", r.st.Advice)
		}
		for _, p := range r.st.Pilots[:4] {
			if p.Found != c.found && (p.Found != AtPeak || c.found == OffAim) || math.Abs(p.Lambda-lambda()) > 0.005 {
				t.Errorf("aim %.2f, reached %.3f: %s, %.3f", c.target, lambda(), p.Found, p.Lambda)
			}
		}
	}
}
