// Package balance turns cycles and a bank into a reading, with its
// uncertainty, and into advice: the one thing to do next. It learns what each
// screw does from what its turning does. It holds no wording, only kinds.
//
// Balance is the stage: Push takes spans, and gives Readings.
//
// Inside, window averages what belongs together, linkage says what is wanted of each
// screw, and gate what stands in the way of advice. The advisor is a machine of few
// phases: it chooses a screw (advise.go, plan.go), has it turned and follows it live
// (turning.go, motion.go) over a recursive estimate of what it does (screws.go), and
// checks a level bank after a blip and the lock nuts (check.go).
package balance

import (
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// Cylinder is what is known of one cylinder. Unknown figures are NaN.
type Cylinder struct {
	Cylinder int // from 1
	Channel  int
	// Draw is the cycle-mean vacuum: ambient minus absolute.
	Draw pressure.KPa
	// Difference is Draw minus the reference's.
	Difference pressure.KPa
	// Uncertainty is the half-width of the 95 % interval of Difference.
	Uncertainty pressure.KPa
	// Opening is the butterfly's effective area over the reference's, from the
	// refill of the runners, and OpeningUncertainty the half-width of its 95 %
	// interval.
	Opening, OpeningUncertainty float64
	// Ripple is the peak-to-peak swing in the last cycle.
	Ripple pressure.KPa
	State  cycle.State
	// Doubt is why the cylinder looks ill in a way that no synchronising screw
	// mends, "" while it doesn't.
	Doubt Why
}

// Reading is what the cycles say now.
type Reading struct {
	Time float64 // seconds since the start of the stream
	RPM  float64 // NaN when unknown
	// Steady is set when the speed has settled.
	Steady    bool
	Reference int // cylinder
	// Spread is the largest minus the smallest draw, and SpreadUncertainty
	// the half-width of its 95 % interval; NaN when unknown.
	Spread, SpreadUncertainty pressure.KPa
	// Cycles is how many cycles the figures average over.
	Cycles    int
	Cylinders []Cylinder
	// IdlingSeconds is the clock of the heat: how long the engine has run, less what
	// standing has cooled it since, s of the stream's own time.
	// IdlingLimitSeconds is where a cool-down is due.
	IdlingSeconds, IdlingLimitSeconds float64
	// Hoses is what the order of the pulses since the last start says.
	Hoses  cycle.HoseOrder
	Advice Advice
	// Span is the one cycle, or stretch without a cycle, that came last.
	Span cycle.Span
}

// Kind is the kind of an advice.
type Kind string

// Kinds of advice.
const (
	Wait    Kind = "wait"
	Turn    Kind = "turn"
	Stop    Kind = "stop"
	Reverse Kind = "reverse"
	Recheck Kind = "recheck"
	SetIdle Kind = "set-idle"
	Fault   Kind = "fault"
	Done    Kind = "done"
)

// Direction is the way to turn a screw.
type Direction = bank.Direction

// The directions.
const (
	Clockwise     = bank.Clockwise
	Anticlockwise = bank.Anticlockwise
	UnknownWay    = bank.UnknownWay
)

// Why is the reason of an advice.
type Why string

// Reasons.
const (
	WhyNoCycle     Why = "no-cycle"     // engine stands, or no steady cycle
	WhyFewCycles   Why = "few-cycles"   // not enough evidence yet
	WhyNotSteady   Why = "not-steady"   // the speed moves
	WhyCold        Why = "cold"         // the idle still rises or falls as the engine warms
	WhyOffIdle     Why = "off-idle"     // the speed is far out of the idle range
	WhyHot         Why = "hot"          // the idling limit is reached: a cool-down is due
	WhyNoZero      Why = "no-zero"      // what is left may be sensor offset
	WhyUnlevel     Why = "unlevel"      // the screw's cylinders stand off
	WhyTry         Why = "try"          // its direction is unknown: turned slowly it shows
	WhyKeepOn      Why = "keep-on"      // it moves the right way
	WhyFaster      Why = "faster"       // it moves the right way, and there is far to go
	WhySlower      Why = "slower"       // nearly there
	WhyNoAnswer    Why = "no-answer"    // named for long, and nothing has moved
	WhyReached     Why = "reached"      // the screw has done its work
	WhyAway        Why = "away"         // the turn led away from level
	WhyOtherScrew  Why = "other-screw"  // something else moved
	WhyBlip        Why = "blip"         // level: blip the throttle and look again
	WhyNuts        Why = "nuts"         // level after it: tighten the lock nuts and look again
	WhyChannel     Why = "channel"      // a channel's state makes it useless
	WhyHoses       Why = "hoses"        // the pulses come as if hoses were exchanged
	WhyDisagree    Why = "disagree"     // a cylinder draws other than its opening asks for
	WhyWeakPulse   Why = "weak-pulse"   // a cylinder's pulse is weak beside the others; its mean still counts
	WhyMisfires    Why = "misfires"     // a cylinder misfires often
	WhyLean        Why = "lean"         // it misfires, and did not before its butterfly was shut
	WhyLevel       Why = "level"        // the bank is level
	WhyIdleSpeed   Why = "idle-speed"   // level, and the speed is off the card's range
	WhyNoOpening   Why = "no-opening"   // openings are to be made alike, and one is unknown
	WhyNoScrew     Why = "no-screw"     // no linkage known: readings only
	WhyOneCylinder Why = "one-cylinder" // nothing to compare
)

// Advice is the one thing to do next.
type Advice struct {
	Kind Kind
	// Screw is the index of the screw in the bank, -1 for none, and
	// ScrewName its name.
	Screw     int
	ScrewName string
	Direction Direction
	// Turns is how far to turn. NaN with a turn is until told to stop: slowly at first,
	// then by the tempo that Why tells.
	Turns float64
	// Cylinder is the one at fault, 0 for none.
	Cylinder int
	Why      Why
}

func advise(kind Kind, why Why) Advice {
	return Advice{Kind: kind, Screw: -1, Turns: math.NaN(), Why: why}
}
