package view

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/mixture"
)

// turnWay is the arrow of a turn of the throttle stop or a pilot screw.
func turnWay(d mixture.Direction) int {
	switch d {
	case mixture.Clockwise:
		return 1
	case mixture.Anticlockwise:
		return -1
	}
	return 0
}

// tellIdle says what the throttle stop wants.
func (v *View) tellIdle(p *Picture) {
	if a := &v.reading().Advice; a.Kind == balance.SetIdle {
		v.tellAdvice(p, v.reading())
		return
	}
	s := &v.Snap.Tune.Idle
	if s.HighRPM > 0 {
		v.tellStop(p, s, fmt.Sprintf("Idle speed wanted: %.0f to %.0f rpm.", s.LowRPM, s.HighRPM))
		return
	}
	p.Big = "IDLE"
	if !math.IsNaN(s.RPM) {
		p.Big = fmt.Sprintf("%.0f", s.RPM)
	}
	p.Say = []string{"The card has no idle speed: set it by the throttle stop to what the manual says, then Enter."}
}

// tellStop says what to do with the throttle stop.
func (v *View) tellStop(p *Picture, s *mixture.IdleState, goal string) {
	a := &s.Advice
	turn := fmt.Sprintf("Turn the throttle stop %s, %s.", a.Direction, amount(a.Turns))
	switch a.Kind {
	case mixture.Turn:
		p.Big, p.Amount, p.Arrow, p.Say = "IDLE", Fraction(a.Turns), turnWay(a.Direction), []string{turn, goal}
	case mixture.Reverse:
		p.Big, p.Arrow, p.Role, p.Say = "OTHER WAY", turnWay(a.Direction), Warn, []string{"That led away. " + turn, goal}
	case mixture.Stop:
		p.Big, p.Role, p.Say = "HAND OFF", Warn, []string{"Enough: let the speed settle.", goal}
	case mixture.Done:
		p.Big, p.Role, p.Say = "IDLE GOOD", Good, []string{goal}
	default:
		p.Big, p.Role, p.Say = "WAIT", Dim, []string{"Looking at the speed: hands off for a moment.", goal}
	}
}

// tellPilots says how the trim of the pilot screws goes.
func (v *View) tellPilots(p *Picture) {
	t := v.Snap.Tune.Trim
	if t == nil {
		p.Big = "PILOTS"
		p.Say = []string{"One pilot screw after the other, for the highest steady idle: Enter begins, n leaves them as they are.",
			"The manual's settings and the law on emissions come first. Never force a screw onto its seat."}
		return
	}
	a := &t.Advice
	switch {
	case t.Step == mixture.StepAllSet:
		v.tellTrimmed(p, t)
	case a.Part == mixture.ThrottleStop:
		v.tellStop(p, &v.Snap.Tune.Idle, "Between two pilot screws the idle comes back to its range.")
	case a.Kind == mixture.Turn:
		p.Big, p.Amount, p.Arrow = fmt.Sprintf("PILOT %d", a.Cylinder), Fraction(a.Turns), turnWay(a.Direction)
		p.Say = []string{fmt.Sprintf("Pilot screw of cylinder %d: %s, %s%s.", a.Cylinder, a.Direction, amount(a.Turns), v.richer(t)), trimWhy[a.Why] + " " + leftWords(t.LeftS)}
		if a.Turns == 0 {
			p.Amount, p.Say[0] = "", fmt.Sprintf("Pilot screw of cylinder %d stays where it is.", a.Cylinder)
		}
		if a.Why == mixture.WhyBack || a.Why == mixture.WhyStalled {
			p.Role = Warn
		}
	case a.Kind == mixture.Fault:
		p.Big, p.Role, p.Say = fmt.Sprintf("LOOK AT %d", a.Cylinder), Bad, []string{"Its channel can't be read: hose, wire or sensor."}
	default:
		p.Big, p.Role = "WAIT", Dim
		p.Say = []string{trimWaits[a.Why]}
		if a.Cylinder > 0 {
			p.Big, p.Say = fmt.Sprintf("WATCH %d", a.Cylinder), []string{"Hands off: the speed at this setting is watched. " + leftWords(t.LeftS)}
		}
	}
}

// trimWhy says why a pilot screw is to be turned.
var trimWhy = map[mixture.Why]string{
	mixture.WhySeek: "A setting to look at.", mixture.WhySet: "That is where it stays.", mixture.WhyTarget: "Towards the lambda on the card.",
	mixture.WhyBack: "The speed fell too far: back at once.", mixture.WhyStalled: "It stopped there: back, and start it.",
}

// trimWaits says what the trim waits for.
var trimWaits = map[mixture.Why]string{
	mixture.WhyNoCycle: "The engine stands: start it.", mixture.WhyNotSteady: "The speed is moving: let it settle at idle.",
	mixture.WhyFewCycles: "Looking at the speed: hands off for a moment.", mixture.WhyBase: "The speed before the first turn is watched.",
	mixture.WhyMeasuring: "Hands off: what did the turn do?",
}

func leftWords(seconds float64) string {
	if math.IsNaN(seconds) || seconds <= 0 {
		return ""
	}
	return fmt.Sprintf("%.0f s; Enter when it is done.", math.Ceil(seconds))
}

// richer says what the turn does to the mixture, where that is known.
func (v *View) richer(t *mixture.TrimState) string {
	switch {
	case !t.RicherKnown:
		return ""
	case t.Richer:
		return ", richer"
	}
	return ", leaner"
}

// found says how a cylinder's trim ended.
var found = map[mixture.Found]string{
	mixture.AtPeak: "", mixture.AtTarget: "", mixture.Pending: " not done", mixture.Trimming: " under way",
	mixture.Unsure: " (unsure)", mixture.AtEnd: " (best at the end of its travel, or beyond)", mixture.Silent: " (the speed does not answer)",
}

func (v *View) tellTrimmed(p *Picture, t *mixture.TrimState) {
	p.Big, p.Role, p.Read = "PILOTS SET", Good, true
	var all []string
	for _, s := range t.Pilots[:t.Cylinders] {
		text := fmt.Sprintf("%d: ", s.Cylinder)
		switch {
		case !math.IsNaN(s.Out):
			text += Fraction(s.Out) + " out"
		case s.Moved < 0:
			text += Fraction(s.Moved) + " in from before"
		default:
			text += Fraction(s.Moved) + " out from before"
		}
		all = append(all, text+found[s.Found])
	}
	p.Say = []string{"Turns: " + strings.Join(all, ", ") + ".", "Enter goes on: back to level where the trim has moved the balance. y trims them again."}
	if t.TooFarApart() {
		p.Role = Warn
		p.Say = append(p.Say, "They stand more than a turn apart: look for a dirty passage, a torn O-ring or an air leak.")
	}
}

// tellRaised says how the look at the raised speed goes.
func (v *View) tellRaised(p *Picture) {
	s := v.Snap.Tune.Raised
	if s == nil {
		p.Big, p.Say = "WAIT", []string{"The look at the raised speed begins with the next cycle."}
		return
	}
	hold := fmt.Sprintf("Hold about %.0f rpm for %.0f s: is the bank even there too? No screw is turned at this speed.", s.TargetRPM, s.WantS)
	switch a := &s.Advice; {
	case s.Done:
		v.tellCompared(p, s)
	case a.Why == mixture.WhyIdleFirst:
		p.Big, p.Say = "IDLE", []string{"A few seconds of idle first, to compare with.", hold}
	case a.Kind == mixture.Hold:
		p.Big, p.Role, p.Say = "HOLD IT", Good, []string{fmt.Sprintf("%.0f of %.0f s.", s.HeldS, s.WantS), hold}
	case a.Why == mixture.WhyLower:
		p.Big, p.Say = "LOWER", []string{hold}
	case a.Why == mixture.WhyRaise:
		p.Big, p.Amount, p.Say = "RAISE TO", fmt.Sprintf("%.0f", s.TargetRPM), []string{hold}
	default:
		p.Big, p.Role, p.Say = "WAIT", Dim, []string{"The engine must run.", hold}
	}
}

// tellCompared says what the raised speed has shown.
func (v *View) tellCompared(p *Picture, s *mixture.RaisedState) {
	u := v.Unit
	p.Say = []string{fmt.Sprintf("Spread %s %s at %.0f rpm, %s at idle; limit %s. Let go of the throttle.", u.Format(s.Raised.Spread), u.Name, s.Raised.RPM, u.Format(s.Idle.Spread), u.Format(v.Limit))}
	if s.Pattern == mixture.EvenBoth {
		p.Big, p.Role = "EVEN", Good
		return
	}
	p.Big, p.Role, p.Read = "UNEVEN", Warn, true
	text := patterns[s.Pattern]
	if s.Cylinder > 0 {
		text = fmt.Sprintf("Cylinder %d: ", s.Cylinder) + text
	}
	if s.Screw >= 0 && s.Screw < len(v.Snap.Bank.Screws) {
		text += " The joint is that of screw " + clean(v.Snap.Bank.Screws[s.Screw].Name) + "."
	}
	var list []string
	for _, c := range s.Causes {
		list = append(list, causes[c])
	}
	p.Say = append(p.Say, text, "Look at, most likely first: "+strings.Join(list, "; ")+".")
}

// patterns say what an uneven result looks like.
var patterns = map[mixture.Pattern]string{
	mixture.OneHigh: "it draws more at the raised speed: its slide or butterfly opens less.", mixture.OneLow: "it draws less at the raised speed: it opens more, or leaks.",
	mixture.SideOff: "All on one side of a joint of the linkage have moved.", mixture.IdleOnly: "Uneven at idle, even above.",
	mixture.AllOver: "Uneven in no order.", mixture.SameBoth: "As uneven as at idle: level it first.",
}

// causes say what may lie behind a pattern: common practice, no source.
var causes = map[mixture.Cause]string{
	mixture.CauseSlide: "a slide that hangs, or its spring", mixture.CauseDiaphragm: "a torn or pinched diaphragm", mixture.CauseNeedle: "needle or main jet",
	mixture.CauseLinkage: "a worn or bent linkage", mixture.CauseLeak: "air past a boot or hose", mixture.CauseSync: "the levelling itself",
	mixture.CauseIdle: "the idle's own passages", mixture.CauseValves: "valve clearances, compression", mixture.CauseHose: "a sensor's hose or its jet",
}
