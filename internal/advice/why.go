package advice

// Why is the reason of an advice.
type Why string

// Reasons that more than one stage gives.
const (
	WhyNoCycle   Why = "no-cycle"   // the engine stands, or no steady cycle
	WhyFewCycles Why = "few-cycles" // not enough evidence yet
	WhyNotSteady Why = "not-steady" // the speed moves
	WhyTry       Why = "try"        // what a turn does is not known: it shows
	WhyReached   Why = "reached"    // the turn has done its work
	WhyAway      Why = "away"       // the turn led away
)

// Reasons of the synchronising screws.
const (
	WhyUnlevel    Why = "unlevel"     // the screw's cylinders stand off
	WhyKeepOn     Why = "keep-on"     // it moves the right way
	WhySlower     Why = "slower"      // nearly there
	WhyTurnBack   Why = "turn-back"   // back what was turned last: which way is not known, but to the hand
	WhySameWay    Why = "same-way"    // that way on
	WhyNoAnswer   Why = "no-answer"   // time for half a turn, and nothing has moved
	WhyFar        Why = "far-turned"  // one screw was turned by more than two turns: look first
	WhyIdleFell   Why = "idle-fell"   // the idle has fallen while screws were turned
	WhyOtherScrew Why = "other-screw" // something else moved
	WhyBlip       Why = "blip"        // level: blip the throttle and look again
	WhyNuts       Why = "nuts"        // level after it: tighten the lock nuts and look again
	WhyLevel      Why = "level"       // the bank is level
)

// Reasons why a bank is not levelled, or not yet.
const (
	WhyNoFrames    Why = "no-frames"    // the board has gone silent
	WhyCold        Why = "cold"         // the idle still rises or falls as the engine warms
	WhyHot         Why = "hot"          // the idling limit is reached: a cool-down is due
	WhyOffIdle     Why = "off-idle"     // the speed is far out of the idle range
	WhyNoZero      Why = "no-zero"      // what is left may be sensor offset
	WhyNoOpening   Why = "no-opening"   // openings are to be made alike, and one is unknown
	WhyNoScrew     Why = "no-screw"     // no linkage known: readings only
	WhyOneCylinder Why = "one-cylinder" // nothing to compare
	WhyChannel     Why = "channel"      // a channel's state makes it useless
	WhyOnePort     Why = "one-port"     // two hoses feel the same pulse
	WhyHoses       Why = "hoses"        // the pulses come as if hoses were exchanged
)

// Reasons why a cylinder looks ill in a way that no synchronising screw mends.
const (
	WhyDisagree  Why = "disagree"   // it draws other than its opening asks for
	WhyShowsLess Why = "shows-less" // swing, dip and draw fall short alike: hose, sensor, or a worn cylinder
	WhyWeakPulse Why = "weak-pulse" // its pulse is weak beside the others; its mean still counts
	// WhyHalfBlocked: its hose passes pulses on a little like a jet, the others' not; its mean is some kPa off.
	WhyHalfBlocked Why = "half-blocked"
	WhyMisfires    Why = "misfires" // it misfires often
	WhyDead        Why = "dead"     // it does not fire at all
	// WhyOneMisfires: it misfires often, or another one that fires near it does: that can't be told.
	WhyOneMisfires Why = "one-misfires"
	// WhyOneSilent: the speed dropped at once and no throttle was shut: one of them may have stopped firing.
	WhyOneSilent Why = "one-silent"
	WhyLean      Why = "lean"      // it misfires, and did not before its butterfly was shut
	WhyLeakNext  Why = "leak-next" // that was told and looked at, and is so again, or would be: an air leak is next
)

// Reasons of the throttle stop.
const (
	WhyNoRange   Why = "no-range"  // no idle speed is known to aim at
	WhyLow       Why = "low"       // the idle is below its range
	WhyHigh      Why = "high"      // the idle is above its range
	WhyMeasuring Why = "measuring" // hands off: what did the turn do?
	WhyWithin    Why = "within"    // the idle is within its range
)

// Reasons of the pilot screws.
const (
	WhyBase    Why = "base"    // the speed before the first turn
	WhySeek    Why = "seek"    // a setting to look at
	WhySet     Why = "set"     // what was found
	WhyTurned  Why = "turned"  // not confirmed: was it turned?
	WhyFurther Why = "further" // further than usual: the speed still rises that way
	WhyRest    Why = "rest"    // the engine is to cool before the next screw
	WhyBack    Why = "back"    // the speed fell too far: back at once
	WhyStalled Why = "stalled" // the engine stopped at a setting: back, and start it
	WhyTarget  Why = "target"  // towards the owner's lambda
	WhyTrimmed Why = "trimmed" // all screws are set
)

// Reasons of the look at a raised speed.
const (
	WhyIdleFirst Why = "idle-first" // idling, until there is something to compare with
	WhyRaise     Why = "raise"      // open the throttle towards the speed
	WhyLower     Why = "lower"      // close it a little
	WhyHolding   Why = "holding"    // there: keep it
	WhyCompared  Why = "compared"   // the look is done
)
