package tell

import (
	"fmt"
	"math"
	"time"

	"evendraw/internal/heat"
)

// HeatLeft says that a budget of idling that was left is gone on with.
func HeatLeft(h *heat.State) string {
	clock := func(s float64) time.Duration { return time.Duration(math.Ceil(s)) * time.Second }
	if h.Hot {
		return fmt.Sprintf("The engine is hot from its last idling: let it stand for %v, with a fan for %v.",
			clock(h.CoolS(false)), clock(h.CoolS(true)))
	}
	return fmt.Sprintf("The engine is warm from its last idling: it may idle for %v, then it must cool.",
		clock(h.LeftS()))
}

// heat writes the budget of idling: idling_s, limit_s, state (ok, near, engine-off, cooling) and, while
// it cools, how long it takes yet with what is known of a fan.
func (o *object) heat(h *heat.State) {
	o.open("heat", '{')
	o.figure("idling_s", h.Seconds)
	o.figure("limit_s", h.LimitS())
	switch {
	case h.Hot && h.Turning:
		o.token("state", "engine-off")
	case h.Hot:
		o.token("state", "cooling")
	case h.Near():
		o.token("state", "near")
	default:
		o.token("state", "ok")
	}
	o.yes("fan", h.Fan)
	if h.Hot {
		o.figure("cooling_s", h.CoolS(h.Fan))
	} else {
		o.word("cooling_s", "")
	}
	o.close('}')
}

// Fan says what the user has told of a fan.
func Fan(on bool) string {
	if on {
		return fmt.Sprintf("A fan on the engine: stopped, it is taken to cool %g times as fast.",
			heat.FanPace/heat.CoolPace)
	}
	return "No fan on the engine."
}
