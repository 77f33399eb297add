package session

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
)

// What was told while nobody saw it is no reproach to a hand that is asked now: it is gone at once, not with the next
// cycle, which may be late.
func TestAReproachEndsAsItIsAskedAnew(t *testing.T) {
	t.Parallel()
	for why, stays := range map[advice.Why]bool{advice.WhyNoAnswer: false, advice.WhyTry: true} {
		s := New(Config{Ambient: 101.3}, Options{})
		s.reading = &balance.Reading{Advice: advice.New(advice.Stop, advice.SyncScrew, why)}
		before := s.reading
		s.AskAnew()
		if got := s.Snapshot().Reading.Advice.Why; (got == why) != stays || before.Advice.Why != why {
			t.Errorf("%s: then %s", why, got)
		}
	}
}
