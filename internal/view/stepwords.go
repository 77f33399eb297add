package view

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/hoses"
	"evendraw/internal/plain"
	"evendraw/internal/sensor"
	"evendraw/internal/series"
)

// stepWords says what the step at hand asks for, and how far it has come.
func (v *View) stepWords() Words {
	if v.Flow.At == StepBike {
		return toRead("WHICH BIKE", Strong, "Choose a bike with the arrows and Enter, or make a card for one.")
	}
	return map[Step]func() Words{StepChecks: v.checksWords, StepRig: v.boardWords, StepZero: v.zeroStepWords,
		StepMatch: v.matchWords, StepWarm: v.warmWords, StepHoses: v.hosesWords, StepIdle: v.idleStepWords,
		StepPilots: v.pilotsWords, StepRaised: v.raisedStepWords, StepKeep: v.keepWords}[v.Flow.At]()
}

func (v *View) checksWords() Words {
	if len(v.Checks) == 0 {
		return toRead("LOOK FIRST", Strong)
	}
	at := v.Cursor
	if v.Page != PageStep {
		at = v.under
	}
	c := v.Checks[min(max(at, 0), len(v.Checks)-1)]
	_, text := benchwords.CheckWords(c)
	switch {
	case !v.anyOpen():
		return toRead("ALL SEEN", Good, text)
	case v.turning() && c.ID == garage.CheckLevelByEye: // it can be seen on the bench alone
		return toRead(BigEngineOff, Warn, "It runs: stop it. When the bank was on the bench, did all butterflies "+
			"stand alike? Yes: press Enter. No, or not looked at: press !.")
	case v.turning() && c.Part != garage.PartPlace:
		return toRead(BigEngineOff, Warn, "It runs: stop it, then look. "+text)
	}
	return toRead("LOOK FIRST", Strong, text)
}

func (v *View) boardWords() Words {
	switch {
	case v.rigGood():
		return words("BOARD GOOD", Good, "It sends at its rate, nothing is lost, and all sensors read sensibly.")
	case v.rate.Seconds > rigSeconds:
		return toRead("LOOK AT IT", Warn,
			"The board does not send as it should: see the lines below. Or n goes on with it as it is.")
	}
	return words("BOARD", Strong, "Looking at what the board sends: rate, losses, every channel.")
}

func (v *View) zeroStepWords() Words {
	switch z := v.snap().Zero; {
	case v.turning():
		return toRead(BigEngineOff, Warn, "The sensors are zeroed with the engine off.",
			"Stop it, take the hoses off the ports, then Enter.")
	case z.Err != nil && z.Result == nil:
		return toRead("ZERO", Warn, Refusal(z.Err), "Put that right, then z tries again.")
	case z.Result != nil:
		return toRead("ZEROED", Good, fmt.Sprintf("The sensors are zeroed; air pressure %.1f kPa.",
			float64(z.Result.Ambient)), v.afterZero())
	case z.Zeroed:
		return toRead("ZERO", Strong, "The board's card holds a zero"+agoText(v.Now, v.Snap.Config.ZeroedAt)+
			"; it drifts with warmth and days.",
			"z takes a new one: engine off, all hoses off the ports. Enter goes on with the old one.")
	}
	return toRead("ZERO", Strong, "Engine off, all hoses off the ports, hands off. Then press Enter "+
		"and wait five seconds.",
		"No zero yet: without it, errors of the sensors look like errors of the carburettors.")
}

// afterZero says what becomes of the open hoses after a zero pass.
func (v *View) afterZero() string {
	if v.next() == StepMatch && !v.matched() {
		return "Leave the hoses off: next the sensors are compared."
	}
	return "Put the hoses on the ports."
}

// matchWords say how the sensors are compared, and what it costs not to.
func (v *View) matchWords() Words {
	how, practice := []string{"Engine off. Join all hoses with tees: to a vacuum pump, or to one port (port plugs " +
		"on the others).", "By pump: Enter, then pump 20 s.",
		"By port: start the engine, outdoors, a fan on it, hands clear; then Enter."}, ""
	if v.Practice != nil {
		how = []string{"Enter compares them, 20 s: the practice engine draws on the hoses itself."}
		practice = " (practice)"
	}
	off := series.ErrorSpread(v.snap().Bank.Cylinders, sensor.GainBand*sensor.BudgetDraw)
	without := "n skips this: a bank shown as level may then be " + v.Unit.Format(off) + " " + v.Unit.Name + " out."
	switch m := v.snap().Match; {
	case m.Running && m.Level < sensor.MatchMinLevel:
		return toRead("COMPARE", Strong, fmt.Sprintf("Waiting for vacuum on all hoses at once, %s %s or more: now %s.",
			v.Unit.Format(sensor.MatchMinLevel), v.Unit.Name, v.Unit.Format(m.Level)))
	case m.Running:
		return toRead(fmt.Sprintf("COMPARE %d%%", int(100*m.Progress)), Strong,
			"Comparing. With a pump: some strokes, a pause, and again. On a port: hands off hoses and throttle.")
	case m.Err != nil && m.Result == nil:
		return toRead("COMPARE", Warn, MatchRefusal(m.Err), "Put that right, then Enter tries again. "+without)
	case m.Result != nil:
		return toRead("COMPARED", Good, "The sensors are compared, and what they differ by is taken away"+practice+
			". Engine off, then each hose on its own port.")
	case v.matched():
		return toRead("COMPARED", Good, "The board's card holds a comparison"+agoText(v.Now, v.Snap.Config.MatchedAt)+
			". Enter goes on with it, y takes a new one.")
	}
	return toRead("COMPARE", Strong, append(how, without,
		"Once is enough for the same sensors.")...)
}

// agoText says how long ago something was, "" when that is not known.
func agoText(now, at time.Time) string {
	if at.IsZero() || now.Before(at) {
		return ""
	}
	return " of " + plain.Age(now.Sub(at)) + " ago"
}

// WarmFirst is told where a run begins behind the step that warms the engine up, or has no steps: a cold engine is
// seen by its speed, and that takes half a minute.
const WarmFirst = "First the engine must be as warm as after a ride, the choke off: levelled cold, it would not " +
	"stay level."

func (v *View) warmWords() Words {
	if !v.turning() {
		big, first := bigStart, "H"
		if !v.snap().Zero.Zeroed {
			big, first = "ZERO FIRST", "Not zeroed: hoses off the ports, z. Then h"
		}
		return toRead(big, Strong, first+startIt,
			"A fan ready, hearing protection on; hands clear of exhaust, chain and fan. "+
				"If it won't start, press ? to see what to look at.")
	}
	const choke = "Choke off as soon as the engine runs without it."
	w := toRead("WARM UP", Strong, fmt.Sprintf("%s Then its speed must hold for %d s: %d so far.", choke, warmSeconds,
		min(int(v.settledFor()), warmSeconds)),
		"Already as warm as after a ride? Enter skips the wait. One pipe cold? Press ? to see what to look at.")
	if v.reading().Advice.Why == advice.WhyCold {
		w.Say[0] = "Its idle still changes slowly: it is not warm yet. While it is cold, idling counts only half. " +
			choke
	}
	switch {
	case v.Flow.stays:
		w.Say = []string{"Let it run. As warm as after a ride, and the choke off? Press Enter."}
	case v.maybeWarm():
		return toRead("WARM?", Warn, fmt.Sprintf("Its speed has held for %d s: probably warm. Choke off now! "+
			"The next step comes by itself.", warmSeconds),
			"Colder than after a ride, or temperature gauge low? Press p: it waits.")
	}
	return w
}

// goBack goes one step back; from an engine that is only taken to be warm, it stays until Enter.
func (v *View) goBack() {
	if !v.maybeWarm() {
		v.choose(v.Flow.At - 1)
		return
	}
	v.Flow.stays, v.warmth = true, ""
}

// maybeWarm reports whether the engine is only taken to be warm, by its speed.
func (v *View) maybeWarm() bool { return v.Flow.At == StepWarm && !v.Flow.stays && v.done(StepWarm) }

func (v *View) hosesWords() Words {
	switch r := v.reading(); {
	case !v.turning():
		return words("HOSES", Strong, "The engine must run: then it is seen which hose is which.")
	case r.Hoses.Verdict == hoses.AsExpected:
		text := "The pulses come in the firing order."
		if same := r.Hoses.Unseen; len(same) > 0 { // exchanges that the pulses can't show
			text += " A swap of " + plain.Pairs(same, ", or of ") + " would look the same: check by eye."
		}
		return words("HOSES OK", Good, text)
	case r.Hoses.Verdict == hoses.Exchanged && r.HosesAside:
		return words("HOSES", Warn, v.hoses(), "Enter goes on.")
	case r.Hoses.Verdict == hoses.Exchanged:
		return toRead("HOSES?", Warn, v.hoses(), "Engine off. Trace each hose to its port. "+hosesRight)
	case r.Hoses.Angles != nil:
		return toRead("HOSES", Warn, "Which hose is which can't be seen: the pulses come elsewhere than the card "+
			"says, about "+r.Hoses.AnglesText()+" degrees. Later correct its firing order and angles.",
			"Now look along each hose from port to sensor, 1 at the seated rider's left. Enter when they are right.")
	}
	return words("HOSES", Strong, "Which hose is which can't be seen yet: look along each hose from port to sensor, "+
		"1 at the seated rider's left.", "Enter when they are right.")
}

// noRoom says that records can't be kept, and what can be done about it.
func (v *View) noRoom() string {
	switch why := plain.Text(v.NoRoom.Why); {
	case !v.Headless:
		return "Not kept (d: another folder): " + why
	case v.NoRoom.Offer != "":
		return "What is to be kept goes to " + plain.Text(v.NoRoom.Offer) + " in the end: " + why
	default:
		return "Not kept: " + why
	}
}

func (v *View) keepWords() Words {
	if v.raced() {
		return letGo("a record is of the idle.")
	}
	w, saves := toRead("SAVE", Strong), "Enter or s saves the last reading."
	off := cmp.Or(v.nuts(true), "All nuts tight?") + " Then engine off"
	switch {
	case len(v.Records) > v.Flow.records:
		w.Big, w.Role = "SAVED", Good
		saves = "Saved: " + plain.Text(v.Records[len(v.Records)-1]) + ". Key i: an A4 page of it; q leaves."
	case v.saved && len(v.Records) > 0:
		saves = "Already saved, when it was level. Enter or s saves again, as it was read last."
	}
	w.Say = []string{off + ". Fuel bottle shut. Tank's tap: OFF, or ON if it has no OFF. Never PRI.",
		"A nut loose? Tighten it, press o, choose Level the bank.", saves,
		"The exhaust is hot. Once cool: sensor hoses, board, fuel bottle off; port plugs, tank and its hoses on."}
	if v.Practice != nil {
		w.Say = []string{"This was practice: q leaves.", saves, "On a bike, this comes next. " + off +
			", fuel shut. Once it is cool: sensor hoses off, port plugs on."}
	}
	if left := garage.LeftOpen(v.Checks, v.Ticks); len(left) > 0 {
		var names []string
		for _, c := range left {
			short, _ := benchwords.CheckWords(c)
			names = append(names, short)
		}
		w.Say = append(w.Say, "Left open on purpose: "+strings.Join(names, "; ")+".")
	}
	if lines := v.inTrial(); lines != nil {
		w.Say = append(append(w.Say, lines...), "Turn it back, then x; or o, Pilot screws goes on with it. Then "+
			"look at the idle speed again.")
	}
	if v.Remark != "" {
		w.Say = append(w.Say, "Remark: "+plain.Text(v.Remark))
	}
	if w.Role == Good {
		w.Say = append(w.Say, "To see the records later, type in a terminal:", plain.Text(v.see))
	}
	return w
}
