package view

import "slices"

// Turns of a screw that one press of a practice key makes.
const (
	pressTurns     = 1.0 / 8
	finePressTurns = 1.0 / 32
)

// practiceKey handles the keys of the practice engine.
func (v *View) practiceKey(k string) {
	p := *v.Practice
	from, to := v.inReach()
	p.Screw = min(max(p.Screw, from), to-1)
	turn := func(turns float64) { v.want(Want{Kind: TurnScrew, Screw: p.Screw, Turns: turns}) }
	switch k {
	case KeyRight:
		turn(pressTurns)
	case KeyLeft:
		turn(-pressTurns)
	case ".":
		turn(finePressTurns)
	case ",":
		turn(-finePressTurns)
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
	case v.Flow.At == StepPilots:
		return stop, n
	}
	return 0, stop + 1
}
