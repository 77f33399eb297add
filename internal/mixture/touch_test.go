package mixture

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
	"evendraw/internal/touched"
)

// On a practice engine a sixteenth of a turn of the throttle stop shows in how fast the runners refill, and by how
// much; a pilot screw that costs a hundred rpm does not.
func TestTouchShowsOnThePracticeEngine(t *testing.T) {
	for _, c := range []struct {
		name        string
		touch       func(e *engine.Engine)
		least, most float64 // how much
	}{
		{"nothing", func(*engine.Engine) {}, 0, 0},
		{"a pilot screw, out", func(e *engine.Engine) { e.TurnPilot(2, -1) }, 0, 0},
		{"a pilot screw, in", func(e *engine.Engine) { e.TurnPilot(2, 0.75) }, 0, 0},
		{"the throttle stop", func(e *engine.Engine) { e.TurnStop(1.0 / 16) }, 0.01, 0.03},
		{"the throttle stop, back", func(e *engine.Engine) { e.TurnStop(-1.0 / 8) }, -0.06, -0.02},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var p touched.Paces
			by, got, looks := 0.0, 0, false
			b := newBench(t, engine.Config{Bank: bank.Default(4), Seed: 11, Running: true, NoSensorErrors: true,
				Uneven: 0.4}, func(s *cycle.Span) {
				if looks && s.Cycle {
					if touch := p.Push(s, 2); touch != 0 {
						by = touch
						got++
					}
				}
			})
			b.run(3, nil)
			looks = true
			b.run(5, nil)
			c.touch(b.engine)
			b.run(8, nil)
			if by < c.least || by > c.most || got > 1 || c.most != 0 && got == 0 {
				t.Errorf("%d touches, by %.4f", got, by)
			}
		})
	}
}
