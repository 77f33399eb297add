package mixture

import (
	"math"

	"evendraw/internal/cycle"
	"evendraw/internal/touched"
)

// touchGain is the share of the speed per share of area that a throttle stop gives which is touched, touchDoubt the
// standard deviation of that between engines. Measured on the practice engine: 0.65 to 0.87; chosen.
const touchGain, touchDoubt = 0.75, 0.4

// mindStop notes how fast the runners refill. Where that shows that the throttle stop was touched, what follows is a
// run of its own: the engine idles faster or slower by itself.
func (t *Trim) mindStop(span *cycle.Span) {
	if s := t.state.Step; s != StepBase && s != StepTurn && s != StepSet && s != StepWatch {
		t.paces = touched.Paces{}
		return
	}
	by := t.paces.Push(span, t.current())
	if by == 0 {
		return
	}
	rpm := by * t.baseRPM
	t.curve.forgetBetween(t.paces.Since, t.now)
	t.curve.newRun(belief{touchGain * rpm, touchDoubt * math.Abs(rpm)})
	t.paces, t.lasts, t.foretold = touched.Paces{}, 0, foretold{}
	t.look.clear(t.curve.base)
	switch t.state.Step {
	case StepTurn, StepSet:
		t.turn.answer, t.turn.pending = answer{}, t.turn.pending[:0]
	case StepWatch:
		t.beginWatch()
	default:
		t.enter(t.state.Step, t.stepSeconds)
	}
}
