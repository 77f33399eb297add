package mixture

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
)

// leastAnswer is how much 1/lambda must change a turn for a probe to answer to a
// screw. Chosen: a sound screw of one cylinder in four gives 0.05 and more.
const leastAnswer = 0.01

// seekTarget looks for the owner's lambda when the probe is in the current
// cylinder's exhaust; it reports false where the peak is to be sought.
func (t *Trim) seekTarget() bool {
	if t.cfg.LambdaOf != t.current() {
		return false
	}
	a, b, ok := t.probe.line()
	if !ok || math.Abs(b) < leastAnswer {
		return false
	}
	to := t.keepInTravel(t.roundToStep((1/t.cfg.Target - a) / b))
	switch p := t.pilot(); {
	case math.Abs(to-t.turnedOut) < t.cfg.Step/2 || p.Visits >= mostVisits:
		found := AtTarget
		if off := math.Abs(a + b*to - 1/t.cfg.Target); off > math.Abs(b)*t.cfg.Step {
			found = AtEnd
		}
		t.finishAt(to, found)
	default:
		t.tellTurn(to, StepTurn, advice.WhySeek)
	}
	return true
}

// shift brings the exhaust of all to the owner's lambda when the peaks are set, by the same turns at every screw.
type shift struct {
	answer [bank.MaxCylinders]float64 // change of the mixed 1/lambda a turn out
	by     float64                    // turns out, of every screw
	made   bool
}

// beginShift begins to shift all screws, when there is a target for the exhaust of
// all and the probe has answered; it reports false where there is nothing to do.
func (t *Trim) beginShift(lambda float64) bool {
	if t.shift.made || t.cfg.Target <= 0 || t.cfg.LambdaOf != 0 || math.IsNaN(lambda) {
		return false
	}
	t.shift.made = true
	sum := 0.0
	for i := range t.cfg.Cylinders {
		switch found, answer := t.state.Pilots[i].Found, t.shift.answer[i]; {
		case found == AtPeak, found == Unsure, found == Silent && math.Abs(answer) > leastAnswer:
			t.order = append(t.order, i+1)
			sum += answer
		}
	}
	turns := math.Round((1/t.cfg.Target-1/lambda)/sum/setStep) * setStep
	if math.Abs(sum) < leastAnswer || turns == 0 {
		t.order = nil
		return false
	}
	t.shift.by = turns
	t.shiftNext()
	return true
}

// shiftNext tells the next screw's turn of a shift.
func (t *Trim) shiftNext() {
	p := t.pilot()
	t.turnedOut, t.cylinderSince, t.far = p.Moved, t.now, true
	t.est = estimate{}
	t.curve.clear(t.speeds.mean(t.speeds.cycles()), t.now, t.turnedOut, belief{})
	t.lowOut, t.highOut = -2*mostFromStart, 2*mostFromStart
	if !math.IsNaN(p.StartOut) {
		t.lowOut, t.highOut = min(leastOut-p.StartOut, 0), max(mostOut-p.StartOut, 0)
	}
	t.state.Ending = AtTarget
	t.notSetYet()
	t.tellTurn(min(max(p.Moved+t.shift.by, t.lowOut, t.inmost()), t.highOut), StepSet, advice.WhyTarget)
}

// aim is what the probe tells of the exhaust that the owner's lambda is of, since a screw of that was set last.
type aim struct {
	since  float64 // s
	sum, n float64 // of 1/lambda
}

// Constants of the look at what was reached.
const (
	// aimS is how long the probe is looked at once all screws are set, s. Chosen: an idle's lambda wanders.
	aimS = 4.0
	// aimOff is how far lambda may be off the owner's to count as met. Chosen: an eighth of a turn at a sound screw.
	aimOff = 0.03
)

// tellsOf reports whether the owner's lambda is of that cylinder's exhaust.
func (t *Trim) tellsOf(cylinder int) bool {
	return t.cfg.Target > 0 && (t.cfg.LambdaOf == 0 || t.cfg.LambdaOf == cylinder)
}

// keepAim notes what the probe tells at the settings that were found, and whether that is the owner's lambda.
func (t *Trim) keepAim(lambda float64) {
	if t.cfg.Target <= 0 || math.IsNaN(lambda) || t.now-t.aim.since < t.probe.delay {
		return
	}
	set := t.cfg.LambdaOf > 0 && t.current() != t.cfg.LambdaOf || t.current() == 0
	if !set {
		return
	}
	t.aim.sum, t.aim.n = t.aim.sum+1/lambda, t.aim.n+1
	for i := range t.cfg.Cylinders {
		p := &t.state.Pilots[i]
		if !t.tellsOf(p.Cylinder) || !p.Found.Final() {
			continue
		}
		if p.Lambda = t.aim.n / t.aim.sum; p.Found != AtTarget && p.Found != OffAim {
			continue
		}
		if p.Found = AtTarget; math.Abs(p.Lambda-t.cfg.Target) > aimOff {
			p.Found = OffAim
		}
	}
}

// probeTold reports whether the probe has been looked at for long enough since the last screw was set; there is
// nothing to wait for where it tells nothing.
func (t *Trim) probeTold() bool {
	return t.cfg.Target <= 0 || math.IsNaN(t.lambda) || t.now-t.aim.since >= t.probe.delay+aimS
}
