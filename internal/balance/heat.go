package balance

import "evendraw/internal/cycle"

// defaultIdlingLimit is how long an engine without a fan may idle, s. Invented:
// the bike's manual may give a figure, and a fan more.
const defaultIdlingLimit = 300.0

const (
	// coolingPace is how many seconds of the clock a second of standing takes
	// off. Chosen: an engine that stands cools slower than it heats.
	coolingPace = 0.5
	// cooledShare of the limit is where a cool-down is over. Chosen.
	cooledShare = 0.5
	// coldPace is how many a second counts while the engine is seen to grow warm: it has
	// heat to take up first. Chosen; not 0, as one that overheats grows warmer too.
	coldPace = 0.5
)

// heat is the clock of idling time: it runs while the engine does, and back while
// it stands.
type heat struct {
	seconds, limit float64
	hot            bool // the limit was reached, and the engine has not cooled since
}

func newHeat(limit float64) heat {
	if limit <= 0 {
		limit = defaultIdlingLimit
	}
	return heat{limit: limit}
}

// push takes the next span's time; cold tells of an engine that is still warming up.
func (h *heat) push(s *cycle.Span, cold bool) {
	switch {
	case s.Cycle && cold:
		h.seconds += coldPace * s.Period
	case s.Cycle:
		h.seconds += s.Period
	default:
		h.seconds = max(h.seconds-coolingPace*s.Period, 0)
	}
	switch {
	case h.seconds >= h.limit:
		h.hot = true
	case h.seconds <= cooledShare*h.limit:
		h.hot = false
	}
}
