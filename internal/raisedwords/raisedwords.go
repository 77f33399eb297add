// Package raisedwords says what a look at a raised speed has shown, and which parts can be the cause. In comes the
// look's state, out come a large word and sentences. Begin with Result.
package raisedwords

import (
	"cmp"
	"fmt"
	"math"

	"evendraw/internal/pilotwords"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/suspects"
)

// unevenWords begin what a look at the raised speed shows.
var unevenWords = map[raised.Pattern]string{
	raised.IdleOnly: "Uneven at idle, not at the raised speed: go back to Level the bank (o), then look again.",
	raised.SameBoth: "As uneven at the raised speed as at idle.",
}

// tenths is a spread as it is told here, in tenths of kPa.
func tenths(p pressure.KPa) float64 { return math.Round(10 * float64(p)) }

// Result says what a look that is done shows: a large word, whether that is good news, and sentences. screws are the
// synchronising screws' names.
func Result(s *raised.State, screws []string) (big string, even bool, say []string) {
	limit := ""
	if s.Pattern != raised.IdleOnly {
		limit = fmt.Sprintf(" (up to %.1f is even)", s.Limit)
	}
	figures := fmt.Sprintf("Spread %.1f kPa at %.0f rpm%s, %.1f at idle.", s.Raised.Spread, s.Raised.RPM, limit,
		s.Idle.Spread)
	head := ""
	switch unlevel := s.IdleLimit > 0 && s.Idle.Spread > s.IdleLimit; {
	case s.Pattern == raised.EvenBoth && tenths(s.Idle.Spread) > tenths(s.IdleLimit/pilotwords.NotLevelAims):
		return "EVEN", true, []string{"Even at the raised speed. " + figures, fmt.Sprintf("At idle it is over the aim "+
			"of %.1f kPa, yet below %.1f, from which it counts as uneven.", s.IdleLimit/pilotwords.NotLevelAims,
			s.IdleLimit)}
	case s.Pattern == raised.EvenBoth:
		return "EVEN", true, []string{"Even at both. " + figures}
	case unlevel && s.Pattern != raised.IdleOnly: // what differs is the levelling's before it is any part's
		return "LEVEL FIRST", false, []string{fmt.Sprintf("The bank is not level at idle (spread %.1f kPa): level it "+
			"(o, Level the bank), then look again.", s.Idle.Spread), figures,
			"Uneven like that, it says nothing of slides, needles or diaphragms."}
	}
	switch s.Pattern {
	case raised.OneHigh:
		head = fmt.Sprintf("Cylinder %d has more vacuum at the raised speed: "+
			"its slide or butterfly opens less than the others'.", s.Cylinder)
	case raised.OneLow:
		head = fmt.Sprintf("Cylinder %d has less vacuum at the raised speed: it opens more than the others', "+
			"or it breathes badly.", s.Cylinder)
	case raised.SideOff:
		name := "?"
		if s.Screw >= 0 && s.Screw < len(screws) {
			name = screws[s.Screw]
		}
		head = fmt.Sprintf("The two sides of screw %s open differently.", name)
	default:
		head = cmp.Or(unevenWords[s.Pattern], "Uneven at the raised speed, in no clear order.")
	}
	say = []string{head, figures}
	for i, c := range s.Causes {
		say = append(say, []string{"Engine off. Look first for ", "Then for "}[min(i, 1)]+suspects.Raised[c]+".")
	}
	return "UNEVEN", false, say
}
