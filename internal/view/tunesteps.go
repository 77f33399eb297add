package view

import (
	"fmt"
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/mixture"
	"evendraw/internal/tell"
)

// setWords puts words into the picture.
func (p *Picture) setWords(w Words) {
	p.Big, p.Amount, p.Arrow, p.Role, p.Say = w.Big, w.Amount, w.Arrow, w.Role, w.Say
}

// sayIdle says what the throttle stop wants.
func (v *View) sayIdle(p *Picture) {
	s := &v.Snap.Tune.Idle
	switch {
	case v.reading().Advice.ToTurn(advice.ThrottleStop):
		v.sayAdvice(p, v.reading())
	case s.HighRPM > 0:
		p.setWords(idleWords(s))
	default:
		p.Big = "IDLE"
		if !math.IsNaN(s.RPM) {
			p.Big = fmt.Sprintf("%.0f", s.RPM)
		}
		p.Say = []string{"The card has no idle speed: set it by the throttle stop to what the manual says, then Enter."}
	}
}

// sayPilots says how the trim of the pilot screws goes.
func (v *View) sayPilots(p *Picture) {
	t := v.Snap.Tune.Trim
	switch {
	case t == nil:
		p.Big = "PILOTS"
		p.Say = []string{"One pilot screw after the other, for the highest steady idle: Enter begins, " +
			"n leaves them as they are.",
			"The manual's settings and the law on emissions come first. Never force a screw onto its seat."}
	case t.Step == mixture.StepAllSet:
		p.setWords(TrimWords(t, &v.Snap.Tune.Idle))
		p.Read = true
		p.Say = append(append([]string{"Enter goes on, back to level where the trim has moved the balance; " +
			"y trims again."}, PilotLines(t)...), PilotWarnings(t)...)
	default:
		p.setWords(TrimWords(t, &v.Snap.Tune.Idle))
		if l := v.Snap.Tune.Lambda; l != nil {
			p.Say = append(p.Say, ProbeLine(l, 0))
		}
	}
}

// sayRaised says how the look at the raised speed goes, and what it has shown.
func (v *View) sayRaised(p *Picture) {
	s := v.Snap.Tune.Raised
	if s == nil {
		p.Big, p.Role, p.Say = "WAIT", Dim, []string{"The look at the raised speed begins with the next cycle."}
		return
	}
	var screws []string
	for _, screw := range v.Snap.Bank.Screws {
		screws = append(screws, tell.Plain(screw.Name))
	}
	p.setWords(RaisedWords(s, screws))
	p.Read = s.Done && s.Pattern != mixture.EvenBoth
	switch {
	case s.Done:
		p.Say = append(p.Say, "Let go of the throttle.")
	case s.Advice.Why == advice.WhyRaise:
		p.Amount = fmt.Sprintf("%.0f", s.TargetRPM)
		p.Say = append(p.Say, "Neutral, firm on its stand, nobody in line with the wheels; "+
			"no screw is turned at this speed.")
	}
}
