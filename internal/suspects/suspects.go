package suspects

import (
	"fmt"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/raised"
)

// Common practice, no source: in the order in which a mechanic looks.
const (
	// Rebuild are the usual ones of a screw that nothing answers to, after a rebuild.
	Rebuild = "Is it the right screw? Is its lock nut loosened? Is its arm seated on its spring?"
	// Ill are those of a cylinder that no synchronising screw mends.
	Ill = "an air leak, a tight valve, low compression, a torn diaphragm or a split hose"
	// Leak are where air leaks in between butterfly and engine.
	Leak = "boot, clamp, port plug or rubber hose"
	// Far is what a screw that was turned far stands for.
	Far = "At the cylinders that it moves, look for an air leak (" + Leak + "); then for a tight valve, low " +
		"compression. A leak found? Turn the screw back as far as you turned it."
	// Spark are what keeps a cylinder from firing, beside its mixture.
	Spark = "spark plug, its cap and lead"
)

// Doubts say why a cylinder looks ill.
var Doubts = map[advice.Why]string{
	advice.WhyDisagree: "its vacuum does not match its throttle opening (air leak, valve clearance, " +
		"compression?)",
	advice.WhyShowsLess: "it pulls too little vacuum for its throttle opening (hose, sensor, air leak, " +
		"valve clearance, compression?)",
	advice.WhyMisfires: "it misfires (spark plug, its cap or lead, mixture, or an air leak?)",
	advice.WhyOneMisfires: "it misfires, or one that fires near it does (spark plug, its cap or lead, mixture, or an " +
		"air leak?)",
	advice.WhyDead: "it does not fire (spark plug, its cap or lead, fuel, or an air leak?)",
	advice.WhyLean: "it misfires with its butterfly further shut (an air leak at boot, clamp or port plug, " +
		"spark plug, its cap or lead, a blocked pilot jet?)",
	advice.WhyHalfBlocked: "its vacuum may read too low (a half blocked hose?)",
	advice.WhyWeakPulse:   "its pulse is weak beside the others (a leaking or half blocked hose?)",
}

// drawsLess is of a cylinder that draws less than its opening asks for. Of one that seems to draw more no way is told:
// what leaks past its rings or valves counts as an opening, too.
const drawsLess = "it pulls too little vacuum for its throttle opening (air leak, valve clearance, compression?)"

// Doubt says why a cylinder looks ill; less is set where it draws less than its opening asks for.
func Doubt(why advice.Why, less bool) string {
	if why == advice.WhyDisagree && less {
		return drawsLess
	}
	return Doubts[why]
}

// Fires says in a word how a cylinder fails to fire as it should, "" for one that looks ill otherwise.
func Fires(why advice.Why) string {
	return map[advice.Why]string{advice.WhyMisfires: "misfires", advice.WhyLean: "misfires",
		advice.WhyDead: "does not fire"}[why]
}

// States are the channel states that hide a cylinder's figures, in a word or two.
var States = map[cycle.State]string{
	cycle.NoPulse:    "no pulse",
	cycle.Ambient:    "hose off?",
	cycle.WeakPulse:  "weak pulse",
	cycle.CutOff:     "dips cut off",
	cycle.Pinched:    "hose pinched?",
	cycle.ShowsLess:  "shows less",
	cycle.Restricted: "hose tight or split?",
	cycle.RailLow:    "sensor at low end",
	cycle.RailHigh:   "sensor at high end",
	cycle.Stale:      "no data",
}

// Channels say what to look at where a channel's state makes it useless.
var Channels = map[cycle.State]string{
	cycle.Ambient:   "Its sensor reads outside air. An open port can make the engine race.",
	cycle.NoPulse:   "Its sensor shows no pulse: look for a blocked or pinched hose, or a dead sensor.",
	cycle.WeakPulse: "Its pulse is weak beside the others: look for a leaking or half blocked hose.",
	cycle.CutOff: "Its sensor can't read so low: its dips are cut off, and no difference can be told. " +
		"Fit one with a wider range.",
	cycle.Pinched: "Its pulse has shrunk at once: is its hose pinched, kinked or wet?",
	cycle.ShowsLess: "Its pulse and vacuum fall short of the others' by one share: look for a split hose, a sensor " +
		"of another kind. Or its butterfly stands far open.",
	cycle.Restricted: "Its hose acts as if it were split, or had a restrictor, and the others don't: dirt, a kink, a " +
		"hole? Or is its sensor of another kind? Mend it, or fit all alike.",
	cycle.RailLow:  "Its sensor is at the low end of its range: wire off, or no supply?",
	cycle.RailHigh: "Its sensor is at the high end of its range: ground wire off?",
}

// NoOpenings say why an opening can't be had.
var NoOpenings = map[cycle.NoOpening]string{
	cycle.FewRefills: "gathering cycles",
	cycle.ShallowDip: "its pulse is too shallow, hose too tight or no zero",
	cycle.FewSamples: "too few samples a cycle",
	cycle.BehindJet:  "its hose passes it on like a restrictor",
	cycle.OddRefill:  "hose too tight, too long or split, or joined runners",
}

// Raised are what an uneven raised speed may come from. Common practice, no source.
var Raised = map[raised.Cause]string{
	raised.CauseSlide:     "a slide that hangs, or a wrong spring",
	raised.CauseDiaphragm: "a torn or pinched diaphragm, or its air passage blocked",
	raised.CauseNeedle:    "needle or needle jet: clip, wear, another part than its neighbours'",
	raised.CauseLinkage:   "the linkage: a worn or bent joint, play, a stiff shaft",
	raised.CauseLeak:      "air past a boot, port hose or port plug",
	raised.CauseHidden: "a leak between butterfly and engine, hidden at idle by levelling: boot, clamp, port " +
		"plug or hose",
	raised.CauseSync:   "the levelling: level the bank first, then look again",
	raised.CauseIdle:   "the idle's own passages: pilot jet, bypass holes",
	raised.CauseValves: "valve clearances or compression",
	raised.CauseHose:   "the measuring hose, its restrictor or its sensor: swap two and look again",
}

// Halts say what a levelling was stopped for, and that the engine draws little; far are the names of the screws that
// were turned too far.
func Halts(far []string, idleFell, lowDraw bool) (notes []string) {
	for _, name := range far {
		notes = append(notes, fmt.Sprintf("screw %s was turned by more than two turns (an air leak?)", name))
	}
	if idleFell {
		notes = append(notes, "the idle fell by a fifth while screws were turned (an air leak?)")
	}
	if lowDraw {
		notes = append(notes, "the vacuum: it is very low for an idle. Does every cylinder fire? Drip water on each "+
			"exhaust pipe, don't touch the pipe: where it does not hiss, that cylinder does not fire")
	}
	return notes
}
