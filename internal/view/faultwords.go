package view

import (
	"fmt"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
)

// onePort names the cylinders whose hoses feel one pulse.
func (v *View) onePort() string {
	var pairs []string
	for _, p := range v.reading().Hoses.OnePort {
		pairs = append(pairs, fmt.Sprintf("%d and %d", p[0], p[1]))
	}
	return fmt.Sprintf("The hoses of cylinders %s feel the same pulse: two hoses are on one port.",
		strings.Join(pairs, ", "))
}

// hosesRight says how to go on where hoses that look swapped are not.
const hosesRight = "If all are right, the card is wrong: start it, press g, and correct its firing order later."

func (v *View) faultSentences(a *advice.Advice) []string {
	switch a.Why {
	case advice.WhyHoses:
		return []string{v.hoses(),
			"Engine off, then trace each hose to its port. " + hosesRight}
	case advice.WhyOnePort:
		return []string{v.onePort(),
			"Engine off, then give each hose its own port. If each has one, start it and press g."}
	case advice.WhyShowsLess:
		return []string{fmt.Sprintf("Cylinder %d pulls too little: a split hose, or a sensor of another "+
			"kind?", a.Cylinder),
			"Engine off, then look. If both are good: valve clearance or compression, and levelling can't mend that. " +
				"To go on, start it and press g."}
	case advice.WhyDisagree:
		return []string{fmt.Sprintf("Cylinder %d: its vacuum does not fit how far its butterfly is open. "+
			"No screw mends that.", a.Cylinder),
			"Suspect " + illSuspects + ". The levelling goes on by " + v.levelBy() + " in a moment."}
	case advice.WhyMisfires:
		return []string{fmt.Sprintf("Cylinder %d misfires often: no screw mends that.", a.Cylinder),
			"Engine off, then look at plug, cap and lead, for a wrong mixture or an air leak. " +
				"Or press g to go on. The figures and their ± are of the cycles that fire."}
	case advice.WhyDead:
		return []string{fmt.Sprintf("Cylinder %d does not fire: no screw mends that.", a.Cylinder),
			"Engine off, then look at plug, cap, lead and fuel. Or press g to go on without it."}
	case advice.WhyLean:
		return []string{fmt.Sprintf("Cylinder %d misfires since its butterfly was shut further: too lean?", a.Cylinder),
			"Engine off. Look for a torn boot or another air leak behind the butterfly, a blocked pilot jet; " +
				"then at plug, cap and lead. If all is good, start it and press g."}
	case advice.WhyWeakPulse:
		return []string{fmt.Sprintf("Cylinder %d: its pulse is weak beside the others; its figure still counts.",
			a.Cylinder),
			"Look for a leaking or half blocked hose. The levelling goes on in a moment."}
	}
	return v.channelSentences(a.Cylinder)
}

// levelBy names what the bank is levelled by.
func (v *View) levelBy() string {
	if v.Snap.Config.LevelBy == balance.ByOpening {
		return "the openings"
	}
	return "the vacuum"
}

func (v *View) channelSentences(cylinder int) []string {
	state := v.reading().Cylinders[cylinder-1].State
	return []string{fmt.Sprintf("Cylinder %d: %s Engine off before you reach in.", cylinder, sentence(faults[state])),
		faultHints[state]}
}

// sentence ends a text as a sentence.
func sentence(text string) string {
	if strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

// faultHints say what to look at where a channel's state makes it useless.
var faultHints = map[cycle.State]string{
	cycle.Ambient:   "It reads outside air. An open port can make the engine race.",
	cycle.NoPulse:   "It does not pulse: look for a blocked or pinched hose, or a dead sensor.",
	cycle.WeakPulse: "Its pulse is weak beside the others: look for a leaking or half blocked hose.",
	cycle.CutOff: "The sensor can't read so low: its dips are cut off, and no difference can be told. " +
		"Fit one with a wider range.",
	cycle.Pinched: "Its pulse has shrunk at once: is its hose pinched, kinked or wet?",
	cycle.Restricted: "It acts as if it were split, or had a restrictor, and the others don't: dirt, a kink, a hole? " +
		"Or is its sensor of another kind? Mend it, or fit all alike.",
	cycle.RailLow:  "Its sensor is at the low end of its range: wire off, or no supply?",
	cycle.RailHigh: "Its sensor is at the high end of its range: ground wire off?",
}
