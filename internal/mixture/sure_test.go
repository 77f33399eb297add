package mixture

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/heat"
)

// handed is a trim of a synthetic four whose hand is the test.
type handed struct {
	*synthetic
	idle  *IdleSpeed
	trim  *Trim
	st    TrimState
	moved [4]float64
}

func newHanded(seed uint64, out []float64) *handed {
	h := &handed{synthetic: newSynthetic(seed), idle: NewIdleSpeed(IdleConfig{LowRPM: 700, HighRPM: 1400})}
	h.trim = NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: out}, h.idle)
	return h
}

// wait pushes cycles for so long, or until something is so.
func (h *handed) wait(seconds float64, until func() bool) {
	for end := h.now + seconds; h.now < end && (until == nil || !until()); {
		p := h.span(&h.moved)
		is := h.idle.Push(p)
		h.st = h.trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
	}
}

// told waits until a turn is told, and reports whether one is.
func (h *handed) told() bool {
	tells := func() bool {
		return (h.st.Step == StepTurn || h.st.Step == StepSet) && h.st.Advice.Turns > 0 || h.st.Step == StepAllSet
	}
	h.wait(60, tells)
	return tells() && h.st.Step != StepAllSet
}

// make turns what is told, or does not, and confirms it.
func (h *handed) make(t *testing.T, truly bool) {
	t.Helper()
	h.wait(4, nil)
	by, c := h.st.Goal-h.st.Pilots[h.st.Cylinder-1].Moved, h.st.Cylinder-1
	if !h.trim.Made() {
		t.Fatal("not heard")
	}
	if truly {
		h.moved[c] += by
	}
}

var handedOut = []float64{1.875, 1.875, 1.875, 1.875}

// A turn that was forgotten and confirmed leaves the speed elsewhere than the fit has it. The next screw, which nobody
// touches, is not taken for turned, nor told in.
func TestAScrewThatNobodyTouchedIsNotTurned(t *testing.T) {
	reached := 0
	for seed := range uint64(8) {
		h := newHanded(seed, handedOut)
		for turn := 0; h.told() && h.st.Cylinder < 2; turn++ {
			h.make(t, turn != 1)
			h.wait(0.5, nil)
		}
		if !h.told() { // the throttle stop is, as the idle has become too low
			continue
		}
		reached++
		h.wait(120, func() bool {
			if p := &h.st.Pilots[1]; p.Moved != 0 || h.st.Cylinder == 2 && h.st.Advice.Direction == advice.Clockwise {
				t.Fatalf("seed %d: screw 2 is taken for turned, %+.3f: %+v", seed, p.Moved, h.st.Advice)
			}
			return h.st.Cylinder != 2
		})
	}
	if reached < 6 {
		t.Errorf("a turn of screw 2 was told %d times", reached)
	}
}

// A turn that was confirmed by mistake can be taken back while the speed is read: it is told again, and no trace of it
// is left.
func TestATurnConfirmedByMistakeIsTakenBack(t *testing.T) {
	h := newHanded(2, handedOut)
	for range 2 {
		h.told()
		goal, doubt := h.st.Goal, h.st.Pilots[0].Doubt
		h.make(t, false)
		h.wait(2, nil)
		if h.st.Step != StepWatch || h.st.Pilots[0].Doubt == 0 && h.st.Pilots[0].Moved > 0 {
			t.Fatalf("%s, %+v", h.st.Step, h.st.Pilots[0])
		}
		before := h.st.Last.Out
		if !h.trim.CorrectTurn(h.st.Said.Number, 0) || h.st.Said != h.st.Last {
			t.Fatal("nothing to take back")
		}
		h.wait(0.2, nil)
		if p := &h.st.Pilots[0]; math.Abs(p.Moved-h.moved[0]) > 1e-9 || p.Doubt != doubt || h.st.Goal != goal ||
			!h.st.Advice.ToTurn(advice.PilotScrew) || h.st.Last.Out != before {
			t.Fatalf("taken back: %+v, to %v: %+v", p, h.st.Goal, h.st.Advice)
		}
		h.make(t, true)
		h.wait(0.2, nil)
	}
	for h.told() {
		h.make(t, true)
		h.wait(0.2, nil)
	}
	for i, p := range h.st.Pilots[:4] {
		if p.Found != AtPeak && p.Found != Unsure || math.Abs(h.moved[i]-h.best[i]) > 0.2 {
			t.Errorf("%+v, stands %+.3f, best %+.3f", p, h.moved[i], h.best[i])
		}
	}
}

// A screw that was left while a turn in was told may have been turned: that is asked before anything else is told of
// it.
func TestATurnInThatWasLeftIsAskedFor(t *testing.T) {
	h := newHanded(1, handedOut)
	for h.told() && h.st.Advice.Direction != advice.Clockwise {
		h.make(t, true)
		h.wait(0.2, nil)
	}
	goal := h.st.Goal
	h.moved[0] = goal // and gone
	h.trim = NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, Earlier: h.st.Pilots[:4]}, h.idle)
	h.st = TrimState{}
	if !h.told() || h.st.Advice.Why != advice.WhyTurned || h.st.Goal != goal {
		t.Fatalf("told %+v, to %v, not %v", h.st.Advice, h.st.Goal, goal)
	}
	h.wait(4, nil)
	if !h.trim.Made() {
		t.Fatal("not heard")
	}
	for h.wait(0.2, nil); h.told(); h.wait(0.2, nil) {
		h.make(t, true)
	}
	if p := &h.st.Pilots[0]; p.Found != AtPeak && p.Found != Unsure || math.Abs(h.moved[0]-h.best[0]) > 0.2 {
		t.Errorf("%+v, stands %+.3f, best %+.3f", p, h.moved[0], h.best[0])
	}
}

// Where nobody knows how far out a screw stood, a turn in that is said to be made by less has come to the seat: no rest
// of it is told.
func TestATurnInThatComesToTheSeat(t *testing.T) {
	h := newHanded(2, nil)
	for h.told() && h.st.Advice.Direction != advice.Clockwise {
		h.make(t, true)
		h.wait(0.2, nil)
	}
	h.wait(4, nil)
	h.moved[0] -= 0.25
	seat := h.moved[0]
	if !h.trim.Correct(0.25) {
		t.Fatal("not heard")
	}
	h.wait(0.2, nil)
	h.wait(200, func() bool {
		if h.st.Cylinder == 1 && h.st.Goal < seat {
			t.Fatalf("told to %+.3f, beyond the seat at %+.3f", h.st.Goal, seat)
		}
		return h.st.Cylinder > 1
	})
}
