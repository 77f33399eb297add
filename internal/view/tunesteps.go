package view

import (
	"fmt"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/plain"
	"evendraw/internal/raised"
)

// idleStepWords says what the throttle stop wants.
func (v *View) idleStepWords() Words {
	s := &v.Snap.Tune.Idle
	switch {
	case v.reading().Advice.ToTurn(advice.ThrottleStop):
		return v.adviceWords(v.reading())
	case s.HighRPM > 0:
		if a := &v.reading().Advice; s.Advice.Kind == advice.Wait && a.Part == advice.SyncScrew {
			return words("LEVEL FIRST", Strong, "The bank is not level: that comes first. Press o, choose Level the "+
				"bank.")
		}
		return idleWords(s)
	}
	w := words("IDLE", Strong, "This bike's right idle is not known: press Enter to type it; n goes on without.")
	if v.Entry != nil {
		w.Say[0] = "This bike's right idle is not known: type it, then Enter. Esc drops it."
	}
	if rpm := v.reading().RPM; rpm > 0 { // as the head has it
		w.Big = fmt.Sprintf("%.0f", rpm)
	}
	return v.yourTurn(w)
}

// yourTurn says that nobody goes on by himself from here, where a virtual mechanic has levelled the bank.
func (v *View) yourTurn(w Words) Words {
	if v.Practice == nil || !v.Practice.Auto {
		return w
	}
	var say []string
	if v.Practice.Doing == "" { // else he says what he does, and when he is done
		say = append(say, "The virtual mechanic is done with levelling. Now you go on, by the keys; q leaves.")
	}
	if doubt := v.doubtNote(); doubt != "" {
		say = append(say, "It reads level, but look at "+doubt)
	}
	w.Say, w.Read = append(say, w.Say...), true
	return w
}

// lesson tells at the end what was the matter with a practice bike: not all of it shows. Nil where there is none, or a
// virtual mechanic says it himself.
func (v *View) lesson() []string {
	if v.Practice == nil || v.Practice.Lesson == "" || v.Practice.Auto {
		return nil
	}
	return []string{"Practice: " + plain.Text(v.Practice.Lesson)}
}

// lessonTime is how much longer the level bank stands for what was the matter to be read. Chosen: a reader beside it.
func (v *View) lessonTime() time.Duration {
	if v.Flow.At != StepBlip || v.lesson() == nil {
		return 0
	}
	return 20 * time.Second
}

// pilotsWords says how the trim of the pilot screws goes.
func (v *View) pilotsWords() Words {
	t := v.Snap.Tune.Trim
	if t == nil {
		return v.pilotsFirstWords()
	}
	w := TrimWords(t, &v.Snap.Tune.Idle)
	if h := v.heat(); t.Step == mixture.StepRest && !h.Turning {
		w = words("COOLING", Warn, w.Say...)
		w.Amount = plain.Clock(h.CoolS(h.Fan))
		w.Say = append(w.Say, "f: a fan blows, or none; both times are guesses, not measured.")
	}
	if t.Step == mixture.StepAllSet {
		w.Read = true
		w.Say = append([]string{"Enter goes on (back to levelling, if this has moved the balance); y trims again."},
			append(pilotwords.Lines(t), pilotwords.Warnings(t)...)...)
	} else if l := v.Snap.Tune.Lambda; l != nil {
		if w.Say = append(w.Say, pilotwords.ProbeLine(l, t.Target)); pilotwords.MoveProbe(l.Of, t) != "" {
			w.Say = append(w.Say, pilotwords.MoveProbe(l.Of, t))
			w.Read = w.Read || !v.turnsPilot() // where it may be moved
		}
	}
	return w
}

// turnsPilot reports whether a turn of a pilot screw is told.
func (v *View) turnsPilot() bool {
	t := v.snap().Tune.Trim
	return !v.Flow.Off && v.Flow.At == StepPilots && t != nil && t.Advice.ToTurn(advice.PilotScrew)
}

// startS is how many seconds of idling a start takes before a trim begins. Chosen: with what shows whether the bank is
// level; without it an engine that was started for a screw was to cool for it. readS is how long the speed is then read
// before the first screw. Measured: 8 to 20 s on practice engines.
const startS, readS = 20, 20

// pilotsNow is how many pilot screws are left, and how many of them come before the engine is to cool.
func (v *View) pilotsNow() (left, now int) {
	left = v.snap().Bank.Cylinders
	for i := range v.snap().Tune.Pilots {
		if v.Snap.Tune.Pilots[i].Found.Final() {
			left--
		}
	}
	budget := v.heat()
	if !v.turning() && budget.Seconds > budget.CooledAtS() {
		budget.Seconds += startS
	}
	budget.Seconds += readS
	return left, mixture.RestAfter(left, &budget)
}

// pilotFits reports whether a pilot screw that is left can be set before the engine is to cool.
func (v *View) pilotFits() bool {
	left, now := v.pilotsNow()
	return left == 0 || now > 0
}

// pilotsFirstWords say what is to come before the trim begins, or is gone on with.
func (v *View) pilotsFirstWords() Words {
	w := toRead("PILOTS", Strong, "One pilot screw after the other is set for the highest steady idle. Enter begins, "+
		"n leaves them as they are.")
	h := v.heat()
	var done []string
	for i := range v.Snap.Tune.Pilots {
		if p := &v.Snap.Tune.Pilots[i]; p.Found.Final() || p.Moved != 0 {
			done = append(done, pilotwords.Result(p))
		}
	}
	left, first := v.pilotsNow()
	switch {
	case left == 0:
		w.Say[0] = "All pilot screws are done: Enter goes on, y trims them anew."
	case first == 0:
		stop := map[bool]string{true: "stop the engine and "}[v.turning()]
		w.Say = append(w.Say, fmt.Sprintf("Only %s of idling is left, too little for a screw: %slet it cool for %s "+
			"(%s with a fan).", plain.Clock(h.LeftS()), stop, plain.Clock(h.CoolS(false)), plain.Clock(h.CoolS(true))))
	case first < left:
		rest := h.RestedS()
		w.Say = append(w.Say, fmt.Sprintf("%s now; then it must cool for %s (%s with a fan); then the other %d.",
			plain.Count(first, "screw"), plain.Clock(rest/heat.CoolPace), plain.Clock(rest/heat.FanPace), left-first))
	default:
		cool := ""
		if _, most := mixture.Takes(left, v.Snap.Tune.Pilots); most > h.LeftS() {
			cool = "; if that is too little, it cools in between"
		}
		w.Say = append(w.Say, fmt.Sprintf("%s The engine may idle %s more%s.",
			pilotwords.Takes(left, v.Snap.Tune.Pilots), plain.Clock(h.LeftS()), cool))
	}
	if done != nil && left > 0 {
		w.Say[0] = "Enter goes on with the pilot screws, y trims all of them anew, n leaves them."
	}
	if left > 0 && first > 0 && !v.turning() {
		w.Say[0] = "Start the engine, outdoors, a fan on it, hands clear. Once it idles: " + w.Say[0]
	}
	if v.inTrial() != nil {
		done = append(done, "Enter goes on from that position. Turned back to where it was? Then x first.")
	}
	if first := pilotwords.NotLevel(v.reading(), v.Aim, v.Unit); first != "" && v.turning() && left > 0 {
		w.Big, w.Role = "LEVEL FIRST", Warn
		w.Say = append([]string{first + " Best press o, choose Level the bank."}, w.Say...)
	}
	w.Say = append(append([]string{"Never force a screw onto its seat."}, w.Say...), append(done,
		"The manual and the law on emissions come first.")...)
	return v.yourTurn(w)
}

// noteOpenPilot says where a pilot screw stands that is left in the middle of its trim.
func (v *View) noteOpenPilot() {
	if t := v.snap().Tune.Trim; t != nil && t.Current() != nil && t.Current().Astray() {
		v.note(fmt.Sprintf("Pilot screw %d is left in the middle.%s Turned back: x. Or p goes on with it.",
			t.Current().Cylinder, pilotwords.Position(t.Current())), Warn)
	}
}

// inTrial are lines on the pilot screws that were left in a trial position; nil while a trim is under way.
func (v *View) inTrial() (lines []string) {
	tune := &v.snap().Tune
	if tune.Trim != nil && tune.Trim.Step != mixture.StepAllSet {
		return nil
	}
	return pilotwords.TrialLines(tune)
}

// putPilotsBack takes the pilot screws in a trial position as turned back, and reports whether there are any.
func (v *View) putPilotsBack() bool {
	if v.inTrial() == nil {
		return false
	}
	v.want(Want{Kind: PilotsBack})
	v.note("The pilot screws count as back where they were.", Plain)
	return true
}

// screwNames are the names of the synchronising screws whose bits, by index, are set.
func (v *View) screwNames(those uint) (names []string) {
	for _, name := range v.Snap.Bank.ScrewNames(those) {
		names = append(names, plain.Text(name))
	}
	return names
}

// raced reports whether the engine still turns far above its idle after the look at the raised speed.
func (v *View) raced() bool {
	r := v.reading()
	return v.turning() && r.RPM > v.Snap.MostIdleRPM()
}

// letGo are the words once the raised speed has been seen.
func letGo(then string) Words {
	return words("LET GO", Warn, "Let go of the throttle: "+then)
}

// raisedStepWords says how the look at the raised speed goes, and what it has shown.
func (v *View) raisedStepWords() Words {
	s := v.Snap.Tune.Raised
	switch {
	case s == nil && !v.turning():
		return startWords()
	case s == nil:
		return words("WAIT", Dim, "The look at the raised speed begins in a moment.")
	}
	w := RaisedWords(s, v.screwNames(^uint(0)), v.Unit)
	w.Read = s.Done && s.Pattern != raised.EvenBoth
	switch {
	case s.Done && v.raced():
		return letGo("the result is shown here when the engine idles.")
	case s.Advice.Why == advice.WhyRaise:
		w.Amount, w.Read = fmt.Sprintf("%.0f", s.TargetRPM), true
		w.Say = append([]string{"Neutral, firm on its stand, nobody in line with the wheels. " +
			"Turn no screw."}, w.Say...)
	}
	return w
}
