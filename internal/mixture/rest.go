package mixture

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/heat"
)

// screwS is how long a pilot screw takes on an idling engine, s: what a job is planned with. Measured by the trial: the
// median of fours is 49, and 95 % take less than 67.
const screwS = 55.0

// rest is the cool-down between two screws.
type rest struct {
	budget  heat.State
	planned bool
	left    int // screws until it is due
}

// RestAfter returns how many of so many pilot screws are trimmed before the engine rests, so that the idling fits its
// budget: all where no rest is needed, else about half of them where the budget has room, 0 where it is to rest first.
func RestAfter(screws int, budget *heat.State) int {
	fit := int(budget.LeftS() / screwS)
	if fit >= screws {
		return screws
	}
	half := (screws + 1) / 2
	if rested := int(budget.RestedS() / screwS); screws-half <= rested {
		return min(fit, half)
	}
	return fit
}

// beginRest has the engine rest before the next screw where the plan has it; it reports false where not.
func (t *Trim) beginRest() bool {
	r := &t.rest
	if r.budget.LimitS() < screwS { // a rest would not help: the limit is told when it comes
		return false
	}
	if !r.planned {
		if r.planned, r.left = true, RestAfter(len(t.order), &r.budget); r.left == len(t.order) {
			r.left = math.MaxInt // a screw that is trimmed anew brings no rest
		}
	}
	if r.left > 0 && r.budget.LeftS() > screwS {
		r.left--
		return false
	}
	r.planned = false
	t.enter(StepRest, math.NaN())
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyRest)
	return true
}

// resting waits until the engine has cooled and idles again.
func (t *Trim) resting() {
	t.state.RPM = math.NaN()
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyRest)
	if b := &t.rest.budget; b.CoolS(b.Fan) > 0 {
		return
	}
	t.interrupted, t.hot = false, false
	t.foretold = foretold{}
	t.aim.over = t.cfg.LambdaOf > 0
	t.idle.settleAnew()
	t.enter(StepIdle, math.NaN())
	t.state.Advice = t.idle.told
}

// enter begins a step that has so many seconds.
func (t *Trim) enter(s Step, seconds float64) {
	t.state.Step, t.stepSince, t.stepSeconds = s, t.now, seconds
}
