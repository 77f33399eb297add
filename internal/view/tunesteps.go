package view

import (
	"fmt"
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/mixture"
	"evendraw/internal/plain"
)

// idleStepWords says what the throttle stop wants.
func (v *View) idleStepWords() Words {
	s := &v.Snap.Tune.Idle
	switch {
	case v.reading().Advice.ToTurn(advice.ThrottleStop):
		return v.adviceWords(v.reading())
	case s.HighRPM > 0:
		return idleWords(s)
	}
	w := words("IDLE", Strong,
		"The card has no idle speed: set it by the throttle stop to what the manual says, then Enter.")
	if !math.IsNaN(s.RPM) {
		w.Big = fmt.Sprintf("%.0f", s.RPM)
	}
	return w
}

// pilotsWords says how the trim of the pilot screws goes.
func (v *View) pilotsWords() Words {
	t := v.Snap.Tune.Trim
	if t == nil {
		return words("PILOTS", Strong, "One pilot screw after the other, for the highest steady idle: Enter begins, "+
			"n leaves them as they are.",
			"The manual's settings and the law on emissions come first. Never force a screw onto its seat.")
	}
	w := TrimWords(t, &v.Snap.Tune.Idle)
	if t.Step == mixture.StepAllSet {
		w.Read = true
		w.Say = append([]string{"Enter goes on, back to level where the trim has moved the balance; y trims again."},
			append(PilotLines(t), PilotWarnings(t)...)...)
	} else if l := v.Snap.Tune.Lambda; l != nil {
		w.Say = append(w.Say, ProbeLine(l, 0))
	}
	return w
}

// raisedStepWords says how the look at the raised speed goes, and what it has shown.
func (v *View) raisedStepWords() Words {
	s := v.Snap.Tune.Raised
	if s == nil {
		return words("WAIT", Dim, "The look at the raised speed begins with the next cycle.")
	}
	var screws []string
	for _, screw := range v.Snap.Bank.Screws {
		screws = append(screws, plain.Text(screw.Name))
	}
	w := RaisedWords(s, screws)
	w.Read = s.Done && s.Pattern != mixture.EvenBoth
	switch {
	case s.Done:
		w.Say = append(w.Say, "Let go of the throttle.")
	case s.Advice.Why == advice.WhyRaise:
		w.Amount = fmt.Sprintf("%.0f", s.TargetRPM)
		w.Say = append(w.Say, "Neutral, firm on its stand, nobody in line with the wheels; "+
			"no screw is turned at this speed.")
	}
	return w
}
