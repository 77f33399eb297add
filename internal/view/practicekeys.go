package view

import "slices"

// practiceTurns are the turns of a screw that one press of a practice key makes.
var practiceTurns = map[string]float64{KeyRight: 1.0 / 8, KeyLeft: -1.0 / 8, ".": 1.0 / 32, ",": -1.0 / 32}

// practiceKey handles the keys of the practice engine.
func (v *View) practiceKey(k string) {
	p := *v.Practice
	from, to := v.inReach()
	p.Screw = min(max(p.Screw, from), to-1)
	switch k {
	case KeyRight, KeyLeft, ".", ",":
		v.want(Want{Kind: TurnScrew, Screw: p.Screw, Turns: practiceTurns[k]})
	case KeyTab, KeyDown:
		p.Screw = from + (p.Screw-from+1)%(to-from)
	case KeyUp:
		p.Screw = from + (p.Screw-from+to-from-1)%(to-from)
	case "t":
		p.Truth = !p.Truth
	case "b":
		v.want(Want{Kind: Blip})
	case "j":
		v.wetNext(&p)
	case "x":
		v.want(Want{Kind: Mend})
	case "v":
		v.want(Want{Kind: HoldRaised})
	case "e":
		kind := StartEngine
		if p.Running {
			kind = StopEngine
		}
		v.want(Want{Kind: kind})
	}
	v.Practice = &p
}

// StopName is the throttle stop among the practice engine's screws.
const StopName = "throttle stop"

// inReach returns which of the practice engine's screws the keys take in hand: the
// synchronising screws and the throttle stop; for the trim the stop and the pilot screws.
func (v *View) inReach() (from, to int) {
	n := len(v.Practice.Names)
	stop := slices.Index(v.Practice.Names, StopName)
	switch {
	case stop < 0:
		return 0, n
	case v.Flow.At == StepPilots || v.Flow.At > StepPilots && v.inTrial() != nil: // it is to be turned back
		return stop, n
	}
	return 0, stop + 1
}
