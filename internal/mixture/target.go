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
	to := t.within(t.round((1/t.cfg.Target - a) / b))
	switch p := t.pilot(); {
	case math.Abs(to-t.at) < t.cfg.Step/2 || p.Visits >= mostVisits:
		found := AtTarget
		if off := math.Abs(a + b*to - 1/t.cfg.Target); off > math.Abs(b)*t.cfg.Step {
			found = AtEnd
		}
		t.set(to, found)
	default:
		t.tell(to, StepTurn, advice.WhySeek)
	}
	return true
}

// shift brings the exhaust of all to the owner's lambda when the peaks are set, by
// the same turns at every screw.
type shift struct {
	answer [bank.MaxCylinders]float64 // change of the mixed 1/lambda a turn out
	by     float64                    // turns out, of every screw
	made   bool
}

// note keeps how the mixed exhaust answers to the current screw.
func (s *shift) note(cylinder int, m *mixes) {
	if _, b, ok := m.line(); ok {
		s.answer[cylinder-1] = b
	}
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
		if t.state.Pilots[i].Found == AtPeak || t.state.Pilots[i].Found == Unsure {
			t.order = append(t.order, i+1)
			sum += t.shift.answer[i]
		}
	}
	turns := t.round((1/t.cfg.Target - 1/lambda) / sum)
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
	t.at, t.cylS = p.Moved, t.now
	t.low, t.high = -2*mostAway, 2*mostAway
	if !math.IsNaN(p.StartOut) {
		t.low, t.high = min(LeastOut-p.StartOut, 0), max(MostOut-p.StartOut, 0)
	}
	p.Found = AtTarget
	t.tell(t.within(p.Moved+t.shift.by), StepSet, advice.WhyTarget)
}
