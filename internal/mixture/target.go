package mixture

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
)

// ownAnswer is how much 1/lambda must change a turn for a probe to be in the screw's own exhaust. Chosen: a sound screw
// gives 0.14 and more, half of that where it stands far out; where the pipes of four meet, a quarter of its own.
const ownAnswer = 0.05

// mostPeak is the leanest lambda by the probe at which an engine is believed to idle fastest. Chosen: engines idle best
// somewhat rich (common practice, no source).
const mostPeak = 1.05

// leastAnswer is how much 1/lambda must change a turn for a probe to answer to a
// screw. Chosen: a sound screw of one cylinder in four gives 0.05 and more.
const leastAnswer = 0.01

// seekTarget looks for the owner's lambda when the probe is in the current
// cylinder's exhaust; it reports false where the peak is to be sought.
func (t *Trim) seekTarget() bool {
	a, b, ok := t.probe.line()
	if t.cfg.LambdaOf != t.current() || !ok || t.pilot().ProbeDeaf {
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

// lambdaAt is what the probe told of the current screw at a setting, NaN where it is in another pipe, or may be.
func (t *Trim) lambdaAt(at float64) float64 {
	if of := t.cfg.LambdaOf; of != 0 && of != t.current() || t.pilot().ProbeDeaf {
		return math.NaN()
	}
	return t.probe.lambdaAt(at)
}

// hearProbe notes whether the probe answered to the first turn of the screw in whose exhaust it is, and whether the
// idle is highest at a lambda that no engine idles best at.
func (t *Trim) hearProbe() {
	_, b, ok := t.probe.line()
	if t.cfg.LambdaOf != t.current() || !ok {
		return
	}
	if t.probe.n == 2 { // further out a needle gives less and less
		t.pilot().ProbeDeaf = math.Abs(b) < ownAnswer
	}
	if e := &t.est; e.ok && 1.96*e.sd <= answerTurns {
		t.hearPeak(t.lambdaAt(e.peak))
	}
}

// hearPeak notes what the probe told at the highest idle, where that can't be.
func (t *Trim) hearPeak(lambda float64) {
	if lambda > mostPeak {
		t.state.LeanPeak = lambda
	}
}

// shift brings the exhaust of all to the owner's lambda when the peaks are set, by the same turns at every screw.
type shift struct {
	answer [bank.MaxCylinders]float64 // change of the mixed 1/lambda a turn out; NaN is unknown
	deaf   bool                       // the probe does not answer to each
	by     float64                    // turns out, of every screw
	made   bool
}

// noAnswers are those of a probe of which nothing is known.
var noAnswers = func() (a [bank.MaxCylinders]float64) {
	for i := range a {
		a[i] = math.NaN()
	}
	return a
}()

// beginShift begins to shift all screws, when there is a target for the exhaust of
// all and the probe has answered; it reports false where there is nothing to do.
func (t *Trim) beginShift(lambda float64) bool {
	if t.shift.made || t.cfg.Target <= 0 || t.cfg.LambdaOf != 0 || math.IsNaN(lambda) {
		return false
	}
	t.shift.made = true
	t.hearPeak(lambda)
	sum, known := 0.0, 0
	for i := range t.cfg.Cylinders {
		p, answer := &t.state.Pilots[i], t.shift.answer[i]
		set := p.Found == AtPeak || p.Found == Unsure
		if !set && !(p.Found == Silent && math.Abs(answer) > leastAnswer) {
			continue
		}
		t.order = append(t.order, i+1)
		if p.ProbeDeaf = math.Abs(answer) < leastAnswer; p.ProbeDeaf {
			t.shift.deaf = true
		}
		if !math.IsNaN(answer) {
			sum, known = sum+answer, known+1
		}
	}
	sum *= float64(len(t.order)) / float64(max(known, 1)) // the others as the mean of those that are known
	turns := math.Round((1/t.cfg.Target-1/lambda)/sum/setStep) * setStep
	if t.shift.deaf || math.Abs(sum) < leastAnswer || turns == 0 {
		t.order = nil
		t.forgetLambdas()
		return false
	}
	t.shift.by = turns
	t.shiftNext()
	return true
}

// forgetLambdas takes back what the probe told, where it is not that of all.
func (t *Trim) forgetLambdas() {
	for i := range t.state.Pilots {
		if t.shift.deaf {
			t.state.Pilots[i].Lambda = math.NaN()
		}
	}
}

// shiftNext tells the next screw's turn of a shift.
func (t *Trim) shiftNext() {
	p := t.pilot()
	t.turnedOut, t.far = p.Moved, true
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
	over   bool    // the engine has stood since, and the probe may have been moved to another pipe
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
	if t.cfg.Target <= 0 || math.IsNaN(lambda) || t.now-t.aim.since < t.probe.delay || t.shift.deaf || t.aim.over {
		return
	}
	set := t.cfg.LambdaOf > 0 && t.current() != t.cfg.LambdaOf || t.current() == 0
	if !set {
		return
	}
	t.aim.sum, t.aim.n = t.aim.sum+1/lambda, t.aim.n+1
	for i := range t.cfg.Cylinders {
		p := &t.state.Pilots[i]
		if !t.tellsOf(p.Cylinder) || !p.Found.Final() || p.ProbeDeaf {
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
