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

func (v *View) faultSentences(a *advice.Advice) []string {
	switch a.Why {
	case advice.WhyHoses:
		return []string{v.hoses(),
			"Stop the engine and trace each hose to its port. If they are right, press g to continue."}
	case advice.WhyOnePort:
		return []string{v.onePort(),
			"Stop the engine and give each hose its own port. If they are right, press g to continue."}
	case advice.WhyShowsLess:
		return []string{fmt.Sprintf("Cylinder %d: its vacuum and its pulse are both too weak: hose split, or a "+
			"sensor of another kind?", a.Cylinder),
			"Engine off, then look at the hose. If hose and sensor are good, it is a valve or rings: press g."}
	case advice.WhyDisagree:
		return []string{fmt.Sprintf("Cylinder %d: its vacuum does not fit how far its butterfly is open. "+
			"No screw mends that.", a.Cylinder),
			"Suspect " + illSuspects + ". The levelling goes on by " + v.levelBy() + " in a moment."}
	case advice.WhyMisfires:
		return []string{fmt.Sprintf("Cylinder %d misfires often: no screw mends that.", a.Cylinder),
			"Engine off, then look at plug, cap, lead, a wrong mixture or an air leak. Or press g to continue."}
	case advice.WhyDead:
		return []string{fmt.Sprintf("Cylinder %d does not fire: no screw mends that.", a.Cylinder),
			"Engine off, then look at plug, cap, lead and fuel. Or press g to continue without it mended."}
	case advice.WhyLean:
		return []string{fmt.Sprintf("Cylinder %d misfires now that its butterfly is further shut: it "+
			"runs lean.", a.Cylinder),
			"Engine off. Look for a torn boot or another air leak behind the butterfly, or a blocked pilot jet. " +
				"If there is none, press g to continue."}
	case advice.WhyWeakPulse:
		return []string{fmt.Sprintf("Cylinder %d: its pulse is weak beside the others; its mean still counts.",
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
	cycle.CutOff: "Its dips are cut off: the sensor can't read so low, and no difference can be told. " +
		"Fit one with a wider range.",
	cycle.Pinched: "Its pulse has shrunk at once: is its hose pinched, kinked or wet?",
	cycle.Restricted: "It passes pressure on like a restrictor or a split hose, the others don't: dirt, a kink, " +
		"a hole in it? Mend it, or fit all hoses alike.",
	cycle.RailLow:  "Its sensor is at the low end of its range: wire off, or no supply?",
	cycle.RailHigh: "Its sensor is at the high end of its range: ground wire off?",
}
