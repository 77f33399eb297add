package pilotwords

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/probe"
	"evendraw/internal/session"
)

// InOrOut says which way a pilot screw is turned.
func InOrOut(d advice.Direction) string {
	return map[bool]string{true: "in", false: "out"}[d == advice.Clockwise]
}

// Setting writes a setting: turns out where they are known, else from where it stood.
func Setting(p *mixture.Pilot, moved float64) string {
	if !math.IsNaN(p.StartOut) {
		return garage.FormatTurns(p.StartOut+moved) + " turns out"
	}
	if moved == 0 {
		return "where it was"
	}
	return garage.FormatTurns(math.Abs(moved)) + " turns further " + InOrOut(advice.WayOf(-moved)) + " than it was"
}

// best writes the best setting, and where the screw stands if that is elsewhere: until it is turned there.
func best(p *mixture.Pilot) string {
	stands := Setting(p, p.Moved)
	if !(math.Abs(p.Best-p.Moved) > settingStep) {
		return stands
	}
	return Setting(p, p.Best) + " (it stands at " + strings.TrimSuffix(stands, " turns out") + ")"
}

// settingStep is the finest setting that is written, turns.
const settingStep = 1.0 / 16

// Result says how the trim of a screw ended.
func Result(p *mixture.Pilot) string {
	head := fmt.Sprintf("Pilot screw %d: ", p.Cylinder)
	switch p.Found {
	case mixture.AtPeak, mixture.ToSet:
		head += fmt.Sprintf("best at %s, sure to ±%.2f turns.", best(p), p.Uncertainty)
		if p.Open != 0 {
			head += " If its last turn was made, it stands at " + Setting(p, p.Moved+p.Open) + "."
		}
		return head
	case mixture.AtTarget, mixture.OffAim:
		return head + map[bool]string{true: "your aim was not met", false: "your lambda"}[p.Found == mixture.OffAim] +
			" at " + Setting(p, p.Moved) + "."
	case mixture.Unsure:
		switch {
		case p.SetRPM > 0:
			return head + fmt.Sprintf("set to a guess, %s; how sure is not known: the engine was to idle at %.0f rpm "+
				"with it, and idled at %.0f.", Setting(p, p.Moved), p.ForetoldRPM, p.SetRPM)
		case math.IsNaN(p.Uncertainty) && p.Moved != 0:
			return head + fmt.Sprintf("set to a guess, %s: the speeds do not go with it, so how sure is not known.",
				Setting(p, p.Moved))
		case math.IsNaN(p.Uncertainty):
			return head + "no best setting was found: left where it was."
		}
		return head + fmt.Sprintf("best guess %s, no surer than ±%.2f turns.", best(p), p.Uncertainty)
	case mixture.AtEnd:
		return head + "best at the end of its travel, " + Setting(p, p.Moved) + "; the true best may be further."
	case mixture.Unturned:
		return head + "left: nobody confirmed its turn, and the speed showed none." + Position(p)
	case mixture.Silent:
		if p.Moved != 0 {
			head += "left at " + Setting(p, p.Moved) + ", not told back as no speed shows where it is: "
		}
		return head + "the speed does not change with it."
	case mixture.Trimming:
		return head + "under way." + Position(p)
	}
	return head + "not yet."
}

// Lines tells of each screw how its trim stands.
func Lines(s *mixture.TrimState) (lines []string) {
	for i := range s.Cylinders {
		p := &s.Pilots[i]
		line := Result(p)
		if !math.IsNaN(p.Lambda) {
			if s.LambdaOf == 0 {
				line += " All pipes together:"
			}
			line += fmt.Sprintf(" Lambda %.3f.", p.Lambda) + map[bool]string{true: fmt.Sprintf(" Your aim is %.2f.",
				s.Target)}[p.Found == mixture.OffAim]
		}
		lines = append(lines, line)
	}
	return lines
}

// Warnings tells what a trim's outcome points to. Suspects are common practice, no source.
func Warnings(s *mixture.TrimState) (lines []string) {
	var flat, slipped []int // best guesses, told together by why
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
			if p.SetRPM > 0 {
				slipped = append(slipped, p.Cylinder)
			} else if !math.IsNaN(p.Uncertainty) { // else it is said with its result
				flat = append(flat, p.Cylinder)
			}
		}
	}
	lines = append(guesses(slipped, flat), lines...)
	lines = append(lines, probeWarnings(s)...)
	if s.TooFarApart() {
		lines = append(lines, fmt.Sprintf("The settings are %.2f turns apart, more than %.0f (common practice): "+
			"suspect a jet, a leak or a float height that differs.", s.Apart, mixture.MostApart))
	}
	return lines
}

// guesses tells why screws ended as best guesses: after a slip, or as the speed hardly changes.
func guesses(slipped, flat []int) (lines []string) {
	if len(slipped) > 0 {
		lines = append(lines, screws(slipped)+": a turn was made otherwise than told, or at another screw, or the "+
			"engine idles otherwise by itself, as while it warms up. Trim it anew.")
		lines = append(lines, "Which one was it? Engine off, count each screw in, gently: one that does not stand as "+
			"far out as is told here was turned by mistake.")
	}
	if len(flat) > 0 {
		lines = append(lines, screws(flat)+": the speed hardly changes about its best, or wanders too much to be "+
			"surer. If it idles roughly, look for the cause first.")
	}
	return lines
}

// screws names one pilot screw or more.
func screws(of []int) string {
	if len(of) == 1 {
		return fmt.Sprintf("Pilot screw %d", of[0])
	}
	var names []string
	for _, c := range of {
		names = append(names, fmt.Sprint(c))
	}
	last := len(names) - 1
	return "Pilot screws " + strings.Join(names[:last], ", ") + " and " + names[last]
}

// probeWarnings tells what a probe's answers point to. Suspects are common practice, no source.
func probeWarnings(s *mixture.TrimState) (lines []string) {
	for i := range s.Cylinders {
		where := "is it where all pipes meet"
		if s.LambdaOf > 0 {
			where = fmt.Sprintf("is it in pipe %d", s.LambdaOf)
		}
		if p := &s.Pilots[i]; p.ProbeDeaf && p.Found.Final() {
			lines = append(lines, fmt.Sprintf("The probe hardly answered to pilot screw %d, which was set by the "+
				"speed: %s? Look with the engine off and the pipe cold.", p.Cylinder, where))
		}
	}
	if s.LeanPeak > 0 {
		lines = append(lines, fmt.Sprintf("The idle is highest at lambda %.2f by the probe, where it should be richer "+
			"than 1: suspect air that leaks into the exhaust before it, or its figures on the card.", s.LeanPeak))
	}
	return lines
}

// ProbeLine tells lambda and air/fuel ratio, and where both come first from.
func ProbeLine(p *probe.State, target float64) string {
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

// MoveProbe says into which pipe a probe belongs while a screw is in hand, "" where it is there.
func MoveProbe(of int, t *mixture.TrimState) string {
	switch {
	case t.Cylinder == 0 || of == t.Cylinder:
		return ""
	case of == 0:
		return fmt.Sprintf("The probe must be where all pipes meet, or in pipe %d. Move it only "+
			"with the engine off and the pipe cold.", t.Cylinder)
	}
	return fmt.Sprintf("Pilot screw %d is set by the speed: the probe is in pipe %d.", t.Cylinder, of)
}

// Position says of a screw that was left in the middle of its trim where it stands, "" where it was before.
func Position(p *mixture.Pilot) (text string) {
	if p.Open != 0 {
		text = " Was its last turn made? Then undo it: " + garage.WayBack(p.Open) + "."
	}
	if p.InTrial() {
		text += fmt.Sprintf(" It stands in a trial position, %s (back: %s).", Setting(p, p.Moved),
			garage.WayBack(p.Moved))
	}
	return text
}

// AskTurn asks how far a turn of a pilot screw was made, and gives its number: the turn that was confirmed last, while
// another stands that nobody has confirmed and that is not asked for; else the one that was told last. A turn in that
// ends at a seat of which nobody knows how far in it is can be told of only before it is confirmed: it is asked about.
func AskTurn(t *mixture.TrimState) (prompt string, number int) {
	w, a := t.Last, &t.Advice
	said := ""
	if p := t.Current(); t.Said.Of > 0 && t.Said.Number != w.Number && a.Why != advice.WhyTurned &&
		!(p != nil && math.IsNaN(p.StartOut) && w.Out < 0) {
		w, said = t.Said, "that you said was made"
	} else if t.Step == mixture.StepTurn || t.Step == mixture.StepSet {
		said = "that is told now"
	}
	if said != "" {
		said = " " + said
	}
	like := "1/2"
	if math.Abs(w.Out) == 0.5 { // none that could be taken for what was told
		like = "1/4"
	}
	return fmt.Sprintf("Screw %d, the turn %s by %s%s: how far was it (as %s; 0: not; -1/4: the other way)", w.Of,
		InOrOut(advice.WayOf(-w.Out)), garage.FormatTurns(math.Abs(w.Out)), said, like), w.Number
}

// TrialLines tell which pilot screws stand in a trial position, or may, under way or left there.
func TrialLines(tune *session.Tune) (lines []string) {
	pilots := tune.Pilots
	if t := tune.Trim; t != nil {
		pilots = t.Pilots[:t.Cylinders]
	}
	for i := range pilots {
		if p := &pilots[i]; p.Astray() {
			lines = append(lines, Result(p))
		}
	}
	return lines
}
