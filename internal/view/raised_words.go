package view

import (
	"cmp"
	"fmt"
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/suspects"
)

// openShare is the share of the raised speed from which the throttle is open before it was asked for. Chosen.
const openShare = 0.6

// RaisedWords says what the look at the raised speed wants, or what it shows; screws are
// the synchronising screws' names.
func RaisedWords(s *mixture.RaisedState, screws []string) Words {
	switch a := &s.Advice; {
	case s.Done:
		return raisedResult(s, screws)
	case a.Why == advice.WhyIdleFirst && s.RPM > openShare*s.TargetRPM:
		return words("LET GO", Warn, "Let go of the throttle: it must idle first, for the raised speed to be compared.")
	case a.Why == advice.WhyIdleFirst:
		return words("IDLE", Dim, "Let it idle for some seconds: the raised speed is compared with it.")
	case a.Kind == advice.Hold:
		return words(fmt.Sprintf("HOLD %s", plain.Clock(max(s.WantS-s.HeldS, 0))), Strong,
			fmt.Sprintf("Keep it near %.0f rpm.", s.TargetRPM))
	case a.Kind == advice.Turn && a.Why == advice.WhyLower:
		return words("REV LESS", Warn, fmt.Sprintf("Close the throttle a little, to %.0f rpm.", s.TargetRPM))
	case a.Kind == advice.Turn:
		return words("REV", Strong,
			fmt.Sprintf("Open the throttle slowly, to %.0f rpm, and hold it there until told.", s.TargetRPM))
	}
	return waitWords(s.Advice.Why)
}

// unevenWords begin what a look at the raised speed shows.
var unevenWords = map[mixture.Pattern]string{
	mixture.IdleOnly: "Uneven at idle, not at the raised speed: go back to Level the bank (o), then look again.",
	mixture.SameBoth: "As uneven at the raised speed as at idle.",
}

// tenths is a spread as it is told here, in tenths of kPa.
func tenths(p pressure.KPa) float64 { return math.Round(10 * float64(p)) }

// raisedResult says what a look shows.
func raisedResult(s *mixture.RaisedState, screws []string) Words {
	even := ""
	if s.Pattern != mixture.IdleOnly {
		even = fmt.Sprintf(" (up to %.1f is even)", s.Limit)
	}
	figures := fmt.Sprintf("Spread %.1f kPa at %.0f rpm%s, %.1f at idle.", s.Raised.Spread, s.Raised.RPM, even,
		s.Idle.Spread)
	head := ""
	switch unlevel := s.IdleLimit > 0 && s.Idle.Spread > s.IdleLimit; {
	case s.Pattern == mixture.EvenBoth && tenths(s.Idle.Spread) > tenths(s.IdleLimit/pilotwords.NotLevelAims):
		return words("EVEN", Good, "Even at the raised speed. "+figures, fmt.Sprintf("At idle it is over the aim "+
			"of %.1f kPa, yet below %.1f, from which it counts as uneven.", s.IdleLimit/pilotwords.NotLevelAims,
			s.IdleLimit))
	case s.Pattern == mixture.EvenBoth:
		return words("EVEN", Good, "Even at both. "+figures)
	case unlevel && s.Pattern != mixture.IdleOnly: // what differs is the levelling's before it is any part's
		return words("LEVEL FIRST", Warn, fmt.Sprintf("The bank is not level at idle (spread %.1f kPa): level it (o, "+
			"Level the bank), then look again.", s.Idle.Spread), figures,
			"Uneven like that, it says nothing of slides, needles or diaphragms.")
	}
	switch s.Pattern {
	case mixture.OneHigh:
		head = fmt.Sprintf("Cylinder %d has more vacuum at the raised speed: "+
			"its slide or butterfly opens less than the others'.", s.Cylinder)
	case mixture.OneLow:
		head = fmt.Sprintf("Cylinder %d has less vacuum at the raised speed: it opens more than the others', "+
			"or it breathes badly.", s.Cylinder)
	case mixture.SideOff:
		name := "?"
		if s.Screw >= 0 && s.Screw < len(screws) {
			name = screws[s.Screw]
		}
		head = fmt.Sprintf("The two sides of screw %s open differently.", name)
	default:
		head = cmp.Or(unevenWords[s.Pattern], "Uneven at the raised speed, in no clear order.")
	}
	w := words("UNEVEN", Warn, head, figures)
	for i, c := range s.Causes {
		w.Say = append(w.Say, []string{"Engine off. Look first for ", "Then for "}[min(i, 1)]+suspects.Raised[c]+".")
	}
	return w
}
