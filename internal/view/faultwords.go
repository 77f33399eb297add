package view

import (
	"fmt"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/hoses"
	"evendraw/internal/keyhelp"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/suspects"
)

// goOn says how to go on after a fault; the key does nothing once the fault is no longer told.
const goOn = "Mended, or nothing found: start it and press g."

// deadGoOn says how to go on after a cylinder that does not fire: no key goes past that.
const deadGoOn = "Start it: levelling goes on once it fires."

// halfBlockedOff is by how much the vacuum behind such a hose is off at most. Measured on the practice engine.
const halfBlockedOff pressure.KPa = 2

// hosesRight says how to go on where hoses that look swapped are not.
const hosesRight = "Swapped? Put them right, start the engine. Not swapped? Start the engine, press g, and " +
	"correct the card's firing order later."

// shutSentences send to the air leak of a cylinder that misfires since a screw was turned, and have the screw turned
// back.
func (v *View) shutSentences(a *advice.Advice) []string {
	said, way := "Cylinder %d has misfired since screw %s was turned", ""
	if a.Why == advice.WhyDead {
		said = "Cylinder %d stopped firing when screw %s was turned, so levelling has stopped"
	}
	if a.Direction != advice.UnknownWay {
		way = " " + string(a.Direction)
	}
	notLevel := ""
	if len(v.Records) == 0 {
		notLevel = " Nothing is levelled or saved yet."
	}
	said = fmt.Sprintf(said+". Engine off. Air leak? Look at cylinder %[1]d first: %[3]s.", a.Cylinder, a.ScrewName,
		suspects.Leak)
	back := fmt.Sprintf("Turn %s back%s, by all that you turned it.%s", a.ScrewName, way, notLevel)
	return append([]string{said, back}, leakOrder(a.Cylinder, a.Why == advice.WhyDead)...)
}

// leakOrder says in which order to look on where a cylinder that was shut misfires, or does not fire at all.
func leakOrder(cylinder int, dead bool) []string {
	end := goOn
	if dead {
		end = deadGoOn
	}
	return []string{fmt.Sprintf("No leak at %d? Look at the other boots; then %s; then the pilot jet. %s", cylinder,
		suspects.Spark, end),
		"Or test with water: start it, press l."}
}

// leakNextSentences are of a cylinder whose screw was turned back for it to fire, and that misfires again, or would
// where its screw shut it once more.
func (v *View) leakNextSentences(a *advice.Advice) []string {
	said := fmt.Sprintf("To level, screw %s would have to shut cylinder %d again, and that made it misfire.",
		a.ScrewName, a.Cylinder)
	dead := false
	switch v.reading().Cylinders[a.Cylinder-1].Doubt {
	case advice.WhyDead:
		dead = true
		said = fmt.Sprintf("Cylinder %d does not fire: the same again. Levelling has stopped for that.", a.Cylinder)
	case advice.WhyMisfires, advice.WhyLean:
		said = fmt.Sprintf("Cylinder %d misfires: the same again.", a.Cylinder)
	}
	return append([]string{said + fmt.Sprintf(" Engine off. Air leak? Look at cylinder %d first: %s.", a.Cylinder,
		suspects.Leak)},
		leakOrder(a.Cylinder, dead)...)
}

func (v *View) faultSentences(a *advice.Advice) []string {
	if a.ScrewName != "" && (a.Why == advice.WhyLean || a.Why == advice.WhyDead) {
		return v.shutSentences(a)
	}
	switch a.Why {
	case advice.WhyLeakNext:
		return v.leakNextSentences(a)
	case advice.WhyHoses:
		return []string{v.hoses(),
			"Engine off. Trace each hose to its port. " + hosesRight}
	case advice.WhyOnePort:
		return []string{"The hoses of cylinders " + plain.Pairs(v.reading().Hoses.OnePort, ", ") +
			" feel the same pulse: two hoses are on one port.", "Engine off, then give each hose its own port. " + goOn}
	case advice.WhyShowsLess:
		return []string{fmt.Sprintf("Cylinder %d pulls too little vacuum for its throttle opening. Engine "+
			"off. Look for a split hose, a sensor of the wrong kind, an air leak. Then check valve clearance "+
			"and compression: levelling cures neither.", a.Cylinder), goOn}
	case advice.WhyDisagree:
		said := ": its vacuum does not match"
		if r := v.reading(); a.Cylinder <= len(r.Cylinders) && r.Cylinders[a.Cylinder-1].DrawsLess {
			said = " pulls too little vacuum for"
		}
		return []string{fmt.Sprintf("Cylinder %d%s its throttle opening. Levelling does not cure that.", a.Cylinder,
			said),
			"Suspect " + suspects.Ill + ". The levelling goes on in a moment; the " +
				"cause stays."}
	case advice.WhyMisfires:
		said := fmt.Sprintf("Cylinder %d misfires often. Levelling does not cure that.", a.Cylinder)
		if a.ScrewName != "" {
			return []string{said + " A screw has shut its butterfly further: does air leak in there?",
				"Engine off. Look at its boot and port plug; l finds a leak while the engine runs. Then " +
					suspects.Spark + ", and mixture. " + goOn}
		}
		return []string{said,
			"Engine off. Check " + suspects.Spark + ", and their suppressors; then for an air leak; then " +
				"the mixture. " + goOn,
			"The figures leave out the cycles that did not fire."}
	case advice.WhyDead:
		return []string{fmt.Sprintf("Cylinder %d does not fire: levelling has stopped for that.", a.Cylinder),
			"Engine off. Check " + suspects.Spark + ", and fuel; then boot and port plug for an air leak. " + deadGoOn}
	case advice.WhyLean:
		return append([]string{fmt.Sprintf("Cylinder %d has misfired since a screw closed its butterfly. "+
			"Engine off. Air leak? Look at cylinder %[1]d first: %[2]s.", a.Cylinder, suspects.Leak)},
			leakOrder(a.Cylinder, false)...)
	case advice.WhyHalfBlocked:
		return []string{fmt.Sprintf("Cylinder %d: its hose may be half blocked; its vacuum may then read up to %s %s "+
			"too low.", a.Cylinder, v.Unit.Format(halfBlockedOff), v.Unit.Name),
			"Look for dirt, a kink or a restrictor in it. The levelling goes on in a moment."}
	case advice.WhyWeakPulse:
		return []string{fmt.Sprintf("Cylinder %d: its pulse is weak beside the others; its figure still counts.",
			a.Cylinder),
			"Look for a leaking or half blocked hose. The levelling goes on in a moment."}
	}
	return v.channelSentences(a.Cylinder)
}

// faultShown reports whether a fault is told, or a screw that is silent or astray.
func (v *View) faultShown() bool {
	r := v.reading()
	if r == nil {
		return false
	}
	a := &r.Advice
	return v.leakFound() || v.noChange || a.Kind == advice.Fault &&
		(a.Why != advice.WhyChannel || r.Cylinders[a.Cylinder-1].State == cycle.ShowsLess) ||
		(a.Why == advice.WhyNoAnswer || a.Why == advice.WhyOtherScrew) && (v.Flow.Off || v.Flow.At == StepLevel) ||
		v.Flow.At == StepHoses && v.turning() && r.Hoses.Verdict == hoses.Exchanged && !r.HosesAside
}

func (v *View) channelSentences(cylinder int) []string {
	state := v.reading().Cylinders[cylinder-1].State
	past := map[cycle.State]string{cycle.ShowsLess: " " + goOn}[state]
	return []string{fmt.Sprintf("Cylinder %d: %s Engine off before you reach in.", cylinder,
		sentence(suspects.States[state])), suspects.Channels[state] + past}
}

// sentence ends a text as a sentence.
func sentence(text string) string {
	if strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

// lastNote says that the spread grows while a screw is turned, "" where it does not.
func lastNote(a *advice.Advice) string {
	if a.Last == 0 {
		return ""
	}
	return fmt.Sprintf(" The spread may grow for a while: cylinder %d comes last.", a.Last)
}

// recheckSentences say how the bank is looked at again.
func (v *View) recheckSentences(a *advice.Advice) []string {
	switch a.Why {
	case advice.WhyBlip:
		head := "Level."
		if v.Snap.Config.LevelBy == balance.ByOpening {
			head = "Butterflies alike."
		}
		return []string{head + " Blip the throttle once, in neutral, and let go. " +
			"The bank is looked at again once the engine is back near its idle.",
			"Hands clear of exhaust, chain and fan."}
	case advice.WhyNuts:
		say := []string{fmt.Sprintf("Hold screw %s still and tighten its lock nut. Then press Enter.", a.ScrewName)}
		if a.Next != "" { // the hand can go there meanwhile
			say = append(say, fmt.Sprintf("After that: screw %s, %s.", a.Next, a.NextWay))
		}
		return append(say, keyhelp.HandsFull)
	}
	way := ""
	if a.Direction != advice.UnknownWay {
		way = fmt.Sprintf(", %s", a.Direction)
	}
	return []string{fmt.Sprintf("Another screw has moved: %s, as it seems. Turn it back as far as you turned it%s, "+
		"then wait. Not turned? Press g.", a.ScrewName, way)}
}
