// Package mixture sets what comes after levelling: the idle speed by the
// throttle stop, the pilot screws one by one for the highest idle speed, and a
// look at the bank at a raised speed. It holds no wording, only kinds.
//
// IdleSpeed, Trim and Raised are stages: Push takes spans, and gives a state
// with the one thing to do next.
package mixture

import (
	"math"

	"evendraw/internal/bank"
)

// Kind is the kind of an advice.
type Kind string

// Kinds of advice.
const (
	Wait    Kind = "wait"
	Turn    Kind = "turn"
	Stop    Kind = "stop"    // take the hand off
	Reverse Kind = "reverse" // it led the wrong way
	Hold    Kind = "hold"    // keep the speed where it is, hands off else
	Done    Kind = "done"
)

// Part is what an advice is about.
type Part string

// Parts.
const (
	NoPart       Part = ""
	ThrottleStop Part = "throttle-stop"
	PilotScrew   Part = "pilot-screw"
	Throttle     Part = "throttle" // the twist grip
)

// Direction is the way to turn a screw.
type Direction = bank.Direction

// The directions.
const (
	Clockwise     = bank.Clockwise
	Anticlockwise = bank.Anticlockwise
	UnknownWay    = bank.UnknownWay
)

// way is the direction of an amount of turns, clockwise positive.
func way(turns float64) Direction {
	if turns < 0 {
		return Anticlockwise
	}
	return Clockwise
}

// Why is the reason of an advice.
type Why string

// Reasons.
const (
	WhyNoCycle   Why = "no-cycle"   // the engine stands
	WhyFewCycles Why = "few-cycles" // not enough evidence yet
	WhyNotSteady Why = "not-steady" // the speed moves
	WhyNoRange   Why = "no-range"   // no idle speed is known to aim at
	WhyLow       Why = "low"        // the idle is below its range
	WhyHigh      Why = "high"       // the idle is above its range
	WhyTry       Why = "try"        // the effect is unknown: a small turn shows it
	WhyMeasuring Why = "measuring"  // hands off: what did the turn do?
	WhyReached   Why = "reached"    // there
	WhyAway      Why = "away"       // the turn led away
	WhyWithin    Why = "within"     // the idle is within its range
)

// Advice is the one thing to do next.
type Advice struct {
	Kind Kind
	Part Part
	// Cylinder is the one whose pilot screw it is, 0 for none.
	Cylinder  int
	Direction Direction
	// Turns is how far to turn, NaN when none is told.
	Turns float64
	Why   Why
}

func advise(kind Kind, part Part, why Why) Advice {
	return Advice{Kind: kind, Part: part, Turns: math.NaN(), Why: why}
}
