package view

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/plain"
	"evendraw/internal/session"
	"evendraw/internal/suspects"
	"evendraw/internal/turnwords"
)

// adviceWords puts the advice of a reading in words.
func (v *View) adviceWords(r *balance.Reading) Words {
	a := &r.Advice
	if w, ok := haltWords(a); ok {
		return w
	}
	w := words(cmp.Or(noWait[a.Why], "WAIT"), Dim, v.sentences(a)...)
	switch {
	case a.ToTurn(advice.ThrottleStop):
		w.Big, w.Amount, w.Arrow, w.Role = "IDLE", plain.Fraction(a.Turns), arrow(a.Direction), Strong
	case a.ToTurn(advice.SyncScrew):
		w.Big, w.Amount, w.Arrow, w.Role = a.ScrewName, plain.Large(a.Turns), arrow(a.Direction), Strong
		if word, ok := tempo[a.Why]; ok && math.IsNaN(a.Turns) {
			w.Screw, w.Big, w.Amount = a.ScrewName, word, ""
		}
		switch {
		case a.Why == advice.WhyAway:
			w.Screw, w.Big, w.Role = a.ScrewName, BigOtherWay, Warn
		case a.Why == advice.WhyTurnBack:
			w.Screw, w.Big, w.Role = a.ScrewName, bigTurnBack, Warn
		case a.Direction == advice.UnknownWay: // the hand knows which
			w.Screw, w.Big = a.ScrewName, tempo[advice.WhyKeepOn]
		}
	case a.Kind == advice.Stop:
		w.Big, w.Role = BigStop, Warn
		if a.Why == advice.WhyNoAnswer {
			w.Big, w.Read = bigNoChange, true // what to look at
		}
	case a.Kind == advice.Recheck:
		w.Big, w.Role = recheckWords[a.Why], Warn
		if a.Why == advice.WhyNuts {
			w.Big = fmt.Sprintf("NUT %s", a.ScrewName)
		} else if a.Why == advice.WhyOtherScrew {
			w.Screw, w.Arrow = a.ScrewName, arrow(a.Direction)
		}
		w.Read = a.Why != advice.WhyNuts // its caution, or how to go on
	case a.Kind == advice.Fault && a.Why == advice.WhyHoses:
		w.Big, w.Role, w.Read = "HOSES", Bad, true
	case a.Kind == advice.Fault:
		w.Big, w.Role, w.Read = fmt.Sprintf("%s %d", BigEngineOff, a.Cylinder), Bad, true // what to look at
		switch a.Why {
		case advice.WhyDisagree, advice.WhyWeakPulse, advice.WhyHalfBlocked: // it goes on in a moment
			w.Big = fmt.Sprintf("LOOK AT %d", a.Cylinder)
		}
	case a.Why == advice.WhyCold:
		w.Role, w.Read = Strong, true // what not to do with it meanwhile
	case a.Why == advice.WhyNoZero && !v.Recording:
		w.Big, w.Role = "ZERO FIRST", Warn
	case v.zeroAsked():
		w.Big, w.Role, w.Read = "ZERO FIRST", Warn, true
	case a.Why == advice.WhyNoCycle && !v.heat().Turning:
		return startWords()
	case a.Kind == advice.Done:
		w.Big, w.Role, w.Read = "LEVEL", Good, !v.matched() || v.lesson() != nil // what it may be out by
		if v.doubtNote() != "" {
			w.Big, w.Role = v.doubted(), Bad
		}
	}
	return w
}

// zeroAsked reports whether a zero is asked for before the engine is started.
func (v *View) zeroAsked() bool {
	r := v.reading()
	return r != nil && r.Advice.Why == advice.WhyNoCycle && !v.snap().Zero.Zeroed && !v.Recording && !v.heat().Turning
}

// startIt ends how an engine is started; an open port makes it race.
const startIt = "oses on the ports, then start it. Outdoors only: its exhaust is poisonous."

// startWords ask for an engine that runs.
func startWords() Words {
	return toRead(bigStart, Strong, "Engine stopped? H"+startIt)
}

// noWait are the large words of a wait that is none for a reading.
var noWait = map[advice.Why]string{advice.WhyCold: "WARM UP", advice.WhyNoScrew: "NO ADVICE",
	advice.WhyNoZero:      "NO ADVICE", // of a recording; else a zero is asked for
	advice.WhyOneCylinder: "NO ADVICE"}

// tempo are the words for a hand that turns until it is told to stop.
var tempo = map[advice.Why]string{advice.WhySlower: "SLOWER", advice.WhyKeepOn: "GO ON"}

// bigTurnBack is of a screw that is to go back by what it was turned.
const bigTurnBack = "TURN BACK"

var recheckWords = map[advice.Why]string{advice.WhyOtherScrew: bigTurnBack, advice.WhyBlip: "BLIP"}

func arrow(d advice.Direction) int {
	return map[advice.Direction]int{advice.Clockwise: 1, advice.Anticlockwise: -1}[d]
}

// sentences says an advice in words.
func (v *View) sentences(a *advice.Advice) []string {
	if a.ToTurn(advice.ThrottleStop) {
		return []string{fmt.Sprintf("The bank is level, but the idle is %s. Turn the throttle stop %s, %s.",
			lowOrHigh(&v.Snap.Tune.Idle, a.Why), a.Direction, plain.Amount(a.Turns)), thenHandOff}
	}
	switch a.Kind {
	case advice.Turn, advice.Reverse:
		return v.turnSentences(a)
	case advice.Stop:
		return turnwords.Stop(a)
	case advice.Recheck:
		return v.recheckSentences(a)
	case advice.Fault:
		return v.faultSentences(a)
	case advice.Done:
		if doubt := v.doubtNote(); doubt != "" {
			head := "The bank reads level, but look at "
			if v.Snap.Config.LevelBy == balance.ByOpening {
				head = "The butterflies are open alike, but look at "
			}
			then := "Engine off. Find the cause before you ride, then level again."
			if v.doubtsFiring() {
				then = "All hiss? Press g. One does not? Engine off: mend its spark or fuel before you ride, then " +
					"level again."
			} else if v.doubtsHose() {
				then = "Engine off. Look at that hose before you trust this, then level again."
			}
			return append([]string{head + doubt, then}, v.lesson()...)
		}
		return append([]string{v.levelSentence(), "Don't leave it idling: go on, or engine off. Later, when cold, " +
			"look at boots, port plugs, small hoses: a leak can hide. A crack? Fit new, level again."},
			v.lesson()...)
	}
	return v.waitSentences(a.Why)
}

// doubtsFiring reports whether all that speaks against a bank that reads level is how little the engine draws.
func (v *View) doubtsFiring() bool {
	h := v.reading().Halts
	ill := func(c balance.Cylinder) bool { return c.Doubt != "" }
	return h.LowDraw && h.Far == 0 && !h.IdleFell && h.Play == 0 && !slices.ContainsFunc(v.reading().Cylinders, ill)
}

// doubtsHose reports whether all that speaks against a bank that reads level is a hose of the rig.
func (v *View) doubtsHose() bool {
	other := func(c balance.Cylinder) bool {
		return c.Doubt != "" && c.Doubt != advice.WhyHalfBlocked && c.Doubt != advice.WhyWeakPulse
	}
	return !slices.ContainsFunc(v.reading().Cylinders, other) && !v.reading().Halts.Doubt()
}

// levelSentence says that the bank is level, and what it has stood.
func (v *View) levelSentence() string {
	text := "The bank is level, also after a blip and with its lock nuts tight."
	if nuts := v.nuts(true); nuts != "" {
		text = "The bank is level, also after a blip. " + nuts
	} else if len(v.Snap.Journal.Steps) == 0 {
		text = "The bank is level, also after a blip."
	}
	if off := v.reading().GainUncertainty; off > 0 && !v.matched() { // it comes on top of what is read
		text += fmt.Sprintf(" The sensors were not compared, so the true spread may be up to %s %s.",
			v.Unit.Format(off+v.reading().Spread), v.Unit.Name)
	}
	return text
}

// nuts names lock nuts that are loose, or that nobody has said to be tight; "" for none, or a virtual mechanic's.
func (v *View) nuts(unsaid bool) string {
	r := v.reading()
	if r == nil || v.Snap.Bank.NoLockNuts || v.Practice != nil && v.Practice.Auto {
		return ""
	}
	text := ""
	if !unsaid && r.Loose != 0 {
		text = "Still loose: nut " + strings.Join(v.screwNames(r.Loose), ", nut ") + "."
	}
	if r.NutsUnsaid != 0 && (unsaid || text != "") {
		text += " Is nut " + strings.Join(v.screwNames(r.NutsUnsaid), " tight? Nut ") + " tight?"
	}
	return strings.TrimSpace(text)
}

// nutGrace is for how long after a lock nut was asked for Enter still means it. Chosen: the way from spanner to key.
const nutGrace = 8 * time.Second

// nutLately reports whether Enter means a lock nut: one is asked for, or was just now.
func (v *View) nutLately() bool {
	return v.nutAsked() || v.Now.Sub(v.nutAt) < nutGrace && v.reading() != nil &&
		(v.Flow.At == StepLevel || v.Flow.At == StepBlip) && !levelled(&v.reading().Advice)
}

// nutAsked reports whether the advice is to tighten a lock nut, at a step that asks for one.
func (v *View) nutAsked() bool {
	return v.nutTold() && (v.Flow.At == StepLevel || v.Flow.At == StepBlip)
}

// nutTold is nutAsked at any step: the lines without a screen have none.
func (v *View) nutTold() bool {
	r := v.reading()
	return r != nil && r.Advice.Kind == advice.Recheck && r.Advice.Why == advice.WhyNuts
}

// asksNuts reports whether it is asked beside a level bank whether lock nuts are tight.
func (v *View) asksNuts() bool {
	return (v.Flow.At == StepLevel || v.Flow.At == StepBlip) && v.turning() && !v.mustStop() && v.Page == PageStep &&
		v.reading().Advice.Kind == advice.Done && v.reading().NutsUnsaid != 0 && v.nuts(true) != ""
}

// doubted is the large word for a bank that reads level in doubt: at a glance not one that is done.
func (v *View) doubted() string {
	inDoubt := func(c balance.Cylinder) bool { return c.Doubt != "" }
	if i := slices.IndexFunc(v.reading().Cylinders, inDoubt); i >= 0 {
		return fmt.Sprintf("%s %d", BigEngineOff, i+1)
	}
	return "LEVEL?" // as of a screw that was turned far
}

// doubtNote says what speaks against a bank that reads level, "" when nothing does.
func (v *View) doubtNote() string {
	ill, h := []string(nil), &v.reading().Halts
	for _, c := range v.reading().Cylinders {
		switch {
		case c.Doubt == "":
		case (h.Far != 0 || h.IdleFell) && suspects.Fires(c.Doubt) != "": // all of it points one way
			return fmt.Sprintf("cylinder %d: it %s, and a screw went far or the idle fell. That points to an air leak "+
				"there: %s; then %s.", c.Cylinder, suspects.Fires(c.Doubt), suspects.Leak, suspects.Spark)
		default:
			ill = append(ill, fmt.Sprintf("cylinder %d: %s", c.Cylinder, suspects.Doubt(c.Doubt, c.DrawsLess)))
		}
	}
	ill = append(ill, suspects.Halts(v.screwNames(h.Far), h.IdleFell, h.LowDraw)...)
	ill = append(ill, turnwords.Play(h.Play, v.Unit)...)
	if ill == nil {
		return ""
	}
	return strings.Join(ill, "; ") + "."
}

// waitSentences says what is waited for.
func (v *View) waitSentences(why advice.Why) []string {
	switch {
	case v.zeroAsked():
		return []string{"With the engine off: all hoses off the ports, then z. Hoses on, then start it.",
			"Outdoors only: its exhaust is poisonous."}
	case why == advice.WhyNoOpening:
		return []string{v.noOpening(), "Mend that, or level by vacuum: level_by = \"draw\" on the card."}
	}
	return turnwords.Wait(why)
}

// noOpening says which cylinder's opening can't be read, and why.
func (v *View) noOpening() string {
	for c, why := range v.reading().Span.NoOpening {
		if why != "" {
			return fmt.Sprintf("The bike's card levels by openings, and that of cylinder %d can't be read: %s.", c+1,
				suspects.NoOpenings[why])
		}
	}
	return "The bike's card levels by openings, and one can't be read."
}

// linkWords says what to do while there are no figures to show. Who looks for a board stands at the
// screen, and can read.
func (v *View) linkWords() (w Words) {
	switch phase := v.snap().Phase; {
	case v.Bare.Port != "" && phase == session.Waiting:
		return v.bareWords()
	case phase == session.Waiting:
		w = words("NO BOARD", Warn, "Waiting for the board. Is its USB lead plugged in? Some leads only charge: "+
			"try another.")
	case phase == session.Garbled:
		w = words("NO BOARD", Warn,
			"Something comes, but nothing that can be read: wrong speed of the line (baud), or another program on "+
				"the board?")
	case phase == session.Foreign:
		w = words("NO BOARD", Warn, "The board speaks another version.", plain.Text(fmt.Sprint(v.Snap.Err)))
	case phase == session.Refused:
		w = words("NO DATA", Warn, "The board sends, but none of its frames can be used.",
			plain.Text(fmt.Sprint(v.Snap.Err)))
	case phase == session.Lost:
		w = words("NO BOARD", Warn,
			"Hand off the screw. Engine off. The board has disconnected: look at its USB plug.",
			map[bool]string{true: "Plugged in again? Start the engine: the job goes on by itself.",
				false: "Plugged in again, the job goes on by itself."}[v.Flow.At.live()])
	case phase == session.Ended && v.Snap.Err != nil:
		w = words("END", Dim, "Nothing more comes: "+plain.Text(v.Snap.Err.Error()))
	case phase == session.Ended:
		w = words("END", Dim, "The time asked for is over.")
		if v.Recording {
			w.Say[0] = "The capture is at its end. q leaves."
		}
	case v.reading() == nil: // it has just answered
		w = words(bigWait, Dim, "The board has answered. No figures within seconds? Look at its USB lead.")
	default:
		w = words("NO DATA", Warn, "Hand off the screw. Engine off. The board is silent: look at its USB lead.",
			"Data again? Start the engine: the job goes on by itself.")
	}
	if w.Read = true; v.LinkNote != "" {
		w.Say = append(w.Say, plain.Text(v.LinkNote))
	}
	return w
}
