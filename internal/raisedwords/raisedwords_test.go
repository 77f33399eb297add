package raisedwords

import (
	"strings"
	"testing"

	"evendraw/internal/pressure"
	"evendraw/internal/raised"
)

// TestTheUnitOfTheCard checks that every spread of the sentences is told in the unit that is shown elsewhere.
func TestTheUnitOfTheCard(t *testing.T) {
	for _, pattern := range []raised.Pattern{raised.EvenBoth, raised.IdleOnly, raised.SameBoth, raised.OneHigh} {
		s := raised.State{Pattern: pattern, Limit: 2.7, IdleLimit: 1}
		s.Idle.Spread, s.Raised.Spread, s.Raised.RPM = 0.9, 3.386388640341, 3000
		if pattern == raised.OneHigh {
			s.Idle.Spread = 2
		}
		_, _, say := Result(&s, []string{"1-2"}, pressure.InchHg)
		text := strings.Join(say, " ")
		if strings.Contains(text, "kPa") || !strings.Contains(text, "1.00 inHg at 3000 rpm") {
			t.Errorf("%v: %s", pattern, text)
		}
	}
}
