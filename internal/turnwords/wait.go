package turnwords

import (
	"slices"

	"evendraw/internal/advice"
)

// waits say what is waited for.
var waits = map[advice.Why][]string{
	advice.WhyNoCycle: {"Let go of the throttle and wait: the idle is not steady yet.", // as in a blip
		"If the engine has stopped, start it, outdoors only."},
	advice.WhyFewCycles: {"Reading the engine: hands off for a moment."},
	advice.WhyMeasuring: {"Reading the engine: hands off for a moment."},
	advice.WhyCold: {"The engine is not warm yet: its idle still changes slowly. Levelled cold, it would not " +
		"stay level.",
		"Let it run until it is warm. Or warm it by a ride. Before the ride: engine off, nuts " +
			"tight; take off sensor hoses, board, fuel bottle; put on port plugs, tank and its hoses."},
	advice.WhyOffIdle: {"The speed is far from idle. Throttle shut, choke off; then bring it near idle with the " +
		"throttle stop."},
	advice.WhyNotSteady: {"Hands off: the speed is moving. Let it settle at idle."},
	advice.WhyNoZero: {"Engine off, all hoses off the ports and open to the air. Then press z and wait five seconds.",
		"Until then this difference may come from the sensors, not the carburettors."},
	advice.WhyNoScrew:     {"No screws are known for this bank: it shows figures, and no advice."},
	advice.WhyOneCylinder: {"One cylinder: nothing to compare it with."},
}

// Wait says what is waited for, and what to do meanwhile; nothing where why is no wait of its own words.
func Wait(why advice.Why) []string { return slices.Clone(waits[why]) }
