// Package raisedwords says what a look at a raised speed has shown, and which parts can be the cause. In comes the
// look's state, out come a large word and sentences. Begin with Result.
package raisedwords

import (
	"cmp"
	"fmt"

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

// Result says what a look that is done shows: a large word, whether that is good news, and sentences. screws are the
// synchronising screws' names, u is what spreads are told in.
func Result(s *raised.State, screws []string, u pressure.Unit) (big string, even bool, say []string) {
	limit := ""
	if s.Pattern != raised.IdleOnly {
		limit = fmt.Sprintf(" (up to %s is even)", u.Format(s.Limit))
	}
	figures := fmt.Sprintf("Spread %s %s at %.0f rpm%s, %s at idle.", u.Format(s.Raised.Spread), u.Name, s.Raised.RPM,
		limit, u.Format(s.Idle.Spread))
	head, aim := "", s.IdleLimit/pilotwords.NotLevelAims
	switch unlevel := s.IdleLimit > 0 && s.Idle.Spread > s.IdleLimit; {
	case s.Pattern == raised.EvenBoth && s.Idle.Spread > aim && u.Format(s.Idle.Spread) != u.Format(aim):
		return "EVEN", true, []string{"Even at the raised speed. " + figures, fmt.Sprintf("At idle it is over the aim "+
			"of %s %s, yet below %s, from which it counts as uneven.", u.Format(aim), u.Name, u.Format(s.IdleLimit))}
	case s.Pattern == raised.EvenBoth:
		return "EVEN", true, []string{"Even at both. " + figures}
	case unlevel && s.Pattern != raised.IdleOnly: // what differs is the levelling's before it is any part's
		return "LEVEL FIRST", false, []string{fmt.Sprintf("The bank is not level at idle (spread %s %s): level it "+
			"(o, Level the bank), then look again.", u.Format(s.Idle.Spread), u.Name), figures,
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
