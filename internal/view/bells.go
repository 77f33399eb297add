package view

import "evendraw/internal/balance"

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
func BellFor(prev, now balance.Advice) int {
	same := prev.Kind == now.Kind && prev.Why == now.Why && prev.Screw == now.Screw && prev.Direction == now.Direction
	if same {
		return 0
	}
	switch now.Kind {
	case balance.Stop:
		return bellsStop
	case balance.Done:
		return bellsDone
	case balance.Fault:
		return bellsOther
	case balance.Recheck:
		if now.Why == balance.WhyOtherScrew {
			return bellsOther
		}
		return bellsGo
	case balance.Reverse:
		if now.Why == balance.WhyAway && prev.Why != balance.WhyAway || prev.Direction != now.Direction {
			return bellsOther
		}
		return bellsGo
	case balance.Turn, balance.SetIdle:
		if now.Why == balance.WhyNoAnswer {
			return 0
		}
		return bellsGo
	}
	return 0
}
