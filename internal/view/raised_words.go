package view

import (
	"fmt"

	"evendraw/internal/advice"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/raisedwords"
)

// openShare is the share of the raised speed from which the throttle is open before it was asked for. Chosen.
const openShare = 0.6

// RaisedWords says what the look at the raised speed wants, or what it shows; screws are
// the synchronising screws' names, u is what spreads are told in.
func RaisedWords(s *raised.State, screws []string, u pressure.Unit) Words {
	target := fmt.Sprintf("%.0f rpm", s.TargetRPM)
	switch a := &s.Advice; {
	case s.Done:
		big, even, say := raisedwords.Result(s, screws, u)
		return words(big, map[bool]Role{true: Good, false: Warn}[even], say...)
	case a.Why == advice.WhyIdleFirst && s.RPM > openShare*s.TargetRPM:
		return words("LET GO", Warn, "Let go of the throttle: it must idle first, for the raised speed to be compared.")
	case a.Why == advice.WhyIdleFirst:
		return words("IDLE", Dim, "Let it idle for some seconds: the raised speed is compared with it.")
	case a.Kind == advice.Hold:
		return words(fmt.Sprintf("HOLD %s", plain.Clock(max(s.WantS-s.HeldS, 0))), Strong, "Keep it near "+target+".")
	case a.Kind == advice.Turn && a.Why == advice.WhyLower:
		return words("REV LESS", Warn, "Close the throttle a little, to "+target+".")
	case a.Kind == advice.Turn:
		return words("REV", Strong, "Open the throttle slowly, to "+target+", and hold it there until told.")
	}
	return waitWords(s.Advice.Why)
}
