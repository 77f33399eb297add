package view

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/plain"
)

// besideDash is a dash between figures, as in the name of a screw between two carburettors.
var besideDash = regexp.MustCompile(`(\d)[-/–](\d)`)

// Between writes a screw's name for large letters: "1↔2" for "1-2", which beside "1/2" of a turn is misread.
func Between(name string) string { return besideDash.ReplaceAllString(name, "$1↔$2") }

// Words are what a screen says: a few large letters, an arrow before an amount, and sentences.
type Words struct {
	Big, Amount string
	Screw       string // the screw's name, where the large word is none
	Way         string // IN or OUT, before the amount
	Arrow       int    // +1 clockwise, -1 anticlockwise, 0 none
	Role        Role
	Say         []string
	// Read is set where the sentences matter more than the large letters.
	Read bool
}

// words returns Words without arrow and amount, of the sentences that are not empty.
func words(big string, role Role, say ...string) Words {
	return Words{Big: big, Role: role, Say: slices.DeleteFunc(say, func(s string) bool { return s == "" })}
}

// toRead returns Words whose sentences matter more than the large letters.
func toRead(big string, role Role, say ...string) Words {
	w := words(big, role, say...)
	w.Read = true
	return w
}

// stopShows says when to take the hand off the throttle stop.
const stopShows = "The word STOP shows when it is enough."

// idleWords says what the throttle stop wants.
func idleWords(s *mixture.IdleState) Words {
	switch a := &s.Advice; a.Kind {
	case advice.Turn:
		w := words("IDLE", Strong, fmt.Sprintf("Idle %s. Turn the throttle stop %s, %s.", lowOrHigh(s, a.Why),
			a.Direction, plain.Amount(a.Turns)), stopShows)
		w.Amount, w.Arrow = plain.Fraction(a.Turns), arrow(a.Direction)
		if a.Why == advice.WhyTry {
			w.Say[1] = "What it does is not seen yet: glance up, STOP may show sooner."
		}
		if a.Again {
			w.Say[1] = "Nothing seen yet: if you turned it already, that much more."
		}
		return w
	case advice.Reverse:
		w := words(BigOtherWay, Warn, fmt.Sprintf("Got worse: now turn the throttle stop %s.", a.Direction))
		w.Arrow = arrow(a.Direction)
		return w
	case advice.Stop:
		return words(BigStop, Warn, "Hand off the throttle stop: the speed takes some seconds to settle.")
	case advice.Done:
		return words("IDLE OK", Good, fmt.Sprintf("The idle is %.0f rpm, within %.0f to %.0f.", s.RPM, s.LowRPM,
			s.HighRPM))
	}
	return waitWords(s.Advice.Why)
}

// lowOrHigh says on which side of its range the idle is, as far as is known with its figures.
func lowOrHigh(s *mixture.IdleState, why advice.Why) string {
	way := "low"
	if s.Side == mixture.Above || why == advice.WhyHigh {
		way = "high"
	}
	if math.IsNaN(s.RPM) || math.IsNaN(s.LowRPM) {
		return way
	}
	return fmt.Sprintf("%s: %.0f rpm, not %.0f to %.0f", way, s.RPM, s.LowRPM, s.HighRPM)
}

// waitWords say what is waited for.
func waitWords(why advice.Why) Words {
	if why == advice.WhyNoCycle {
		return startWords()
	}
	say := map[advice.Why]string{advice.WhyNotSteady: "The speed is moving: let it settle.",
		advice.WhyNoRange: "The bike's card holds no idle speed: the maker's manual gives it.",
		advice.WhyRest:    "Too little idling time is left for the next pilot screw: stop the engine and let it cool.",
		advice.WhyBase:    "Hands off: the speed before the first turn is read."}[why]
	return words("WAIT", Dim, cmp.Or(say, "Hands off for some seconds: the speed is read."))
}

// TrimWords says what the pilot screws want.
func TrimWords(s *mixture.TrimState, idle *mixture.IdleState) Words {
	a := &s.Advice
	if a.Part == advice.ThrottleStop {
		return idleWords(idle)
	}
	name := fmt.Sprintf("PILOT %d", a.Cylinder)
	if a.Why == advice.WhyRest {
		return restWords(s)
	}
	switch a.Kind {
	case advice.Turn:
		if a.Turns == 0 {
			return words(name, Dim, fmt.Sprintf("Pilot screw %d stays where it is.", a.Cylinder))
		}
		w := words(name, Strong, fmt.Sprintf("Pilot screw %d %s (%s), %s%s. Enter when it is turned.", a.Cylinder,
			a.Direction, inOrOut(a.Direction), plain.Amount(a.Turns), richer(s)))
		if a.Direction == advice.Clockwise {
			w.Say = append(w.Say, offSeat(s))
		}
		w.Way, w.Amount, w.Arrow = strings.ToUpper(inOrOut(a.Direction)), plain.Fraction(a.Turns), arrow(a.Direction)
		switch a.Why {
		case advice.WhyTurned:
			return turnedWords(s, a)
		case advice.WhySet:
			w.Role = Good
			set := *s.Current()
			set.Found, set.Open = s.Ending, 0
			w.Say = append(w.Say, pilotResult(&set))
		case advice.WhyBack, advice.WhyStalled:
			w.Role = Warn
			w.Say = append(w.Say, "The engine can't run at that setting: it won't be tried again.")
		}
		w.Say, w.Read = append(w.Say, farther(s)...), s.Far()
		w.Say = append(w.Say, "The exhaust is hot: mind your hand.")
		return w
	case advice.Hold:
		w := words("HANDS OFF", Dim, fmt.Sprintf("Pilot screw %d: hands off while the speed settles and is read.",
			a.Cylinder), OtherAmount)
		w.Amount = plain.Clock(s.LeftS)
		return w
	case advice.Done:
		return words("ALL SET", Good, "All pilot screws are set. Look at the levelling again: the trim moves it.")
	}
	return waitWords(a.Why)
}

// restWords say that the engine is to stand before the next screw.
func restWords(s *mixture.TrimState) Words {
	done := 0
	for i := range s.Cylinders {
		if s.Pilots[i].Found.Final() {
			done++
		}
	}
	return words(BigEngineOff, Warn, fmt.Sprintf("%d of %d pilot screws are done: the engine is to cool before "+
		"the others. Your place in the job is kept.", done, s.Cylinders))
}

// OtherAmount is how another amount is told by a key.
const OtherAmount = "Turned by another amount, or not at all? Press c."

// offSeat warns of the needle's seat.
func offSeat(s *mixture.TrimState) string {
	if math.IsNaN(s.Current().StartOut) {
		return "How far out it stood isn't noted: count as you turn. Lightly seated is the end: stop there, then c."
	}
	return "Never force it onto its seat."
}

// turnedWords ask whether a turn was made that nobody has confirmed and the speed does not show.
func turnedWords(s *mixture.TrimState, a *advice.Advice) Words {
	say := fmt.Sprintf("Pilot screw %d %s, %s: is it made? The speed alone does not tell. Press Enter once it is "+
		"turned; don't turn it twice.", a.Cylinder, inOrOut(a.Direction), plain.Amount(a.Turns))
	w := words("TURNED?", Warn, append(append([]string{say}, farther(s)...), OtherAmount)...)
	w.Read = s.Far()
	return w
}

// farther says why a turn leads further than 3/4 from where the screw stood, if it does.
func farther(s *mixture.TrimState) []string {
	if !s.Far() {
		return nil
	}
	why := "the best speed is that way."
	if s.Step == mixture.StepSet {
		why = "the best setting is that far off."
	}
	return []string{"More than 3/4 of a turn from where it stood: " + why}
}

func inOrOut(d advice.Direction) string {
	return map[bool]string{true: "in", false: "out"}[d == advice.Clockwise]
}

// richer says which way a turn moves the mixture, where it is known.
func richer(s *mixture.TrimState) string {
	if !s.RicherKnown {
		return ""
	}
	return map[bool]string{true: ", richer", false: ", leaner"}[s.Richer]
}

// pilotSetting writes a setting: turns out where they are known, else from where it stood.
func pilotSetting(p *mixture.Pilot, moved float64) string {
	if !math.IsNaN(p.StartOut) {
		return garage.FormatTurns(p.StartOut+moved) + " turns out"
	}
	if moved == 0 {
		return "where it was"
	}
	return garage.FormatTurns(math.Abs(moved)) + " turns further " + inOrOut(advice.WayOf(-moved)) + " than it was"
}

// pilotBest writes the best setting, and where the screw stands if that is elsewhere: until it is turned there.
func pilotBest(p *mixture.Pilot) string {
	stands := pilotSetting(p, p.Moved)
	if !(math.Abs(p.Best-p.Moved) > settingStep) {
		return stands
	}
	return pilotSetting(p, p.Best) + " (it stands at " + strings.TrimSuffix(stands, " turns out") + ")"
}

// settingStep is the finest setting that is written, turns.
const settingStep = 1.0 / 16

// pilotResult says how the trim of a screw ended.
func pilotResult(p *mixture.Pilot) string {
	head := fmt.Sprintf("Pilot screw %d: ", p.Cylinder)
	switch p.Found {
	case mixture.AtPeak, mixture.ToSet:
		head += fmt.Sprintf("best at %s, sure to ±%.2f turns.", pilotBest(p), p.Uncertainty)
		if p.Open != 0 {
			head += " If its last turn was made, it stands at " + pilotSetting(p, p.Moved+p.Open) + "."
		}
		return head
	case mixture.AtTarget, mixture.OffAim:
		return head + map[bool]string{true: "your aim was not met", false: "your lambda"}[p.Found == mixture.OffAim] +
			" at " + pilotSetting(p, p.Moved) + "."
	case mixture.Unsure:
		if math.IsNaN(p.Uncertainty) {
			return head + "no best setting was found: left where it was."
		}
		head += fmt.Sprintf("best guess %s, no surer than ±%.2f turns.", pilotBest(p), p.Uncertainty)
		less := fmt.Sprintf(" It was to bring %.0f rpm there, and brought %.0f.", p.ForetoldRPM, p.SetRPM)
		return head + map[bool]string{true: less}[p.SetRPM > 0]
	case mixture.AtEnd:
		return head + "best at the end of its travel, " + pilotSetting(p, p.Moved) + "; the true best may be further."
	case mixture.Unturned:
		return head + "left: nobody confirmed its turn, and the speed showed none." + trialPosition(p)
	case mixture.Silent:
		if p.Moved != 0 {
			head += "left at " + pilotSetting(p, p.Moved) + ", not told back as no speed shows where it is: "
		}
		return head + "the speed does not change with it."
	case mixture.Trimming:
		return head + "under way." + trialPosition(p)
	}
	return head + "not yet."
}

// PilotLines tells of each screw how its trim stands.
func PilotLines(s *mixture.TrimState) (lines []string) {
	for i := range s.Cylinders {
		p := &s.Pilots[i]
		line := pilotResult(p)
		if !math.IsNaN(p.Lambda) {
			line += fmt.Sprintf(" Lambda %.3f.", p.Lambda) + map[bool]string{true: fmt.Sprintf(" Your aim is %.2f.",
				s.Target)}[p.Found == mixture.OffAim]
		}
		lines = append(lines, line)
	}
	return lines
}

// PilotWarnings tells what a trim's outcome points to. Suspects are common practice, no source.
func PilotWarnings(s *mixture.TrimState) (lines []string) {
	for i := range s.Cylinders {
		switch p := &s.Pilots[i]; p.Found {
		case mixture.AtEnd:
			lines = append(lines, fmt.Sprintf("Pilot screw %d is best at the end of its travel: "+
				"suspect a blocked pilot jet or passage, an air leak, a wrong float height.", p.Cylinder))
		case mixture.Silent:
			lines = append(lines, fmt.Sprintf("Pilot screw %d changes nothing: does the cylinder fire? Suspect "+
				"spark plug and lead, a blocked pilot jet, a leak, or a butterfly too far open.", p.Cylinder))
		case mixture.ToSet:
			if s.Step == mixture.StepAllSet {
				lines = append(lines, fmt.Sprintf("Pilot screw %d is told no further in: a turn out was confirmed "+
					"that the speed never showed, and it must stay off its seat. Engine off, count it in.", p.Cylinder))
			}
		case mixture.Unsure:
			lines = append(lines, fmt.Sprintf("Pilot screw %d: the speed hardly changes about its best, or wanders "+
				"too much to be surer. If it idles roughly, look for the cause first.", p.Cylinder))
		}
	}
	if s.TooFarApart() {
		lines = append(lines, fmt.Sprintf("The settings are %.2f turns apart, more than %.0f (common practice): "+
			"suspect a jet, a leak or a float height that differs.", s.Apart, mixture.MostApart))
	}
	return lines
}

// ProbeLine tells lambda and air/fuel ratio, and where both come first from.
func ProbeLine(p *mixture.ProbeState, target float64) string {
	if math.IsNaN(p.Lambda) {
		return "Lambda: nothing comes from the probe (cold, or its cable off?)"
	}
	line := fmt.Sprintf("Lambda %.3f, air/fuel %.2f", p.Lambda, p.AFR)
	if p.AtEnd {
		line = fmt.Sprintf("Lambda at the end of the controller's range, %.2f: the true value may be beyond "+
			"it", p.Lambda)
	}
	if p.Of > 0 {
		line += fmt.Sprintf(", in pipe %d", p.Of)
	}
	if target > 0 {
		way := "as"
		if off := p.Lambda - target; math.Abs(off) >= 0.005 {
			way = map[bool]string{true: "leaner than", false: "richer than"}[off > 0]
		}
		line += fmt.Sprintf("; %s your aim of %.2f", way, target)
	}
	return line + "."
}

// moveProbe says into which pipe a probe belongs while a screw is in hand, "" where it is there.
func moveProbe(of int, t *mixture.TrimState) string {
	switch {
	case t.Cylinder == 0 || of == t.Cylinder:
		return ""
	case of == 0:
		return fmt.Sprintf("The probe must be where all pipes meet, or in pipe %d. Move it only "+
			"with the engine off and the pipe cold.", t.Cylinder)
	}
	return fmt.Sprintf("Pilot screw %d is set by the speed: the probe is in pipe %d.", t.Cylinder, of)
}
