package voice

import (
	"evendraw/internal/advice"
	"evendraw/internal/balance"
)

// Bells of the advice, for ears that are on while the eyes are on a screwdriver.
const (
	bellsGo    = 1 // a screw is named, or the tempo changes
	bellsStop  = 2 // hand off
	bellsOther = 3 // the other way, the wrong screw, a fault
	bellsDone  = 4
)

// BellFor returns how many times the terminal's bell rings when the advice goes from
// prev to now, 0 to 4: 1 go on (a screw to turn, another pace, the next thing to do),
// 2 stop, 3 wrong (the other way, another screw, a fault), 4 level. Waiting, and
// advice that goes on, is silent.
func BellFor(prev, now advice.Advice) int {
	same := prev.Kind == now.Kind && prev.Why == now.Why && prev.Screw == now.Screw && prev.Direction == now.Direction
	if same {
		return 0
	}
	if now.ToTurn(advice.ThrottleStop) {
		return bellsGo
	}
	switch now.Kind {
	case advice.Stop:
		if now.Why == advice.WhyNoAnswer { // nothing has come right
			return bellsOther
		}
		return bellsStop
	case advice.Done:
		return bellsDone
	case advice.Fault:
		return bellsOther
	case advice.Recheck:
		if now.Why == advice.WhyOtherScrew {
			return bellsOther
		}
		return bellsGo
	case advice.Reverse:
		if now.Why == advice.WhyAway && prev.Why != advice.WhyAway || prev.Direction != now.Direction {
			return bellsOther
		}
		return bellsGo
	case advice.Turn:
		if now.Why == advice.WhyNoAnswer {
			return 0
		}
		return bellsGo
	}
	return 0
}

// bellTicks is how many ticks of the screen lie between two rings: a terminal's bell
// that rings at once rings once. Chosen: a fifth of a second.
const bellTicks = 4

// Bells rings the advice, one ring at a time.
type Bells struct {
	On    bool
	told  advice.Advice
	left  int // rings still to come
	ticks int // until the next
}

// Due takes the newest reading at each tick of the screen, nil for none, and reports
// whether to ring now.
func (b *Bells) Due(r *balance.Reading) bool {
	if !b.On || r == nil {
		return false
	}
	if n := BellFor(b.told, r.Advice); n > 0 {
		b.left, b.ticks = n, 0 // news break off what was ringing
	}
	b.told = r.Advice
	if b.ticks--; b.left == 0 || b.ticks >= 0 {
		return false
	}
	b.left, b.ticks = b.left-1, bellTicks
	return true
}
