package practice

import (
	"fmt"

	"evendraw/internal/engine"
	"evendraw/internal/garage"
)

// idleLeft is how far outside a card's range the practice engine idles at first at most, a share of the speed.
// Chosen: the bank is levelled there, and the idle is left to be set.
const idleLeft = 0.1

// idleRPM is about the speed at which the engine idles at first: the usual, or as near to the card's range as is to be
// left to set, as far as it can idle there.
func (o *Options) idleRPM() float64 {
	b := o.Like
	if b == nil || b.IdleRPMHigh == 0 {
		return 0
	}
	rpm := min(max(engine.UsualIdleRPM, b.IdleRPMLow*(1-idleLeft)), b.IdleRPMHigh*(1+idleLeft))
	return min(max(rpm, engine.LeastIdleRPM), engine.MostIdleRPM)
}

// CanIdle refuses a card whose range of idle speed the practice engine can't reach.
func CanIdle(b *garage.Bike) error {
	if b.IdleRPMHigh == 0 || b.IdleRPMLow <= engine.MostIdleRPM && b.IdleRPMHigh >= engine.LeastIdleRPM {
		return nil
	}
	return fmt.Errorf("the card of %s wants an idle of %.0f to %.0f rpm, and the practice engine can idle from %.0f "+
		"to %.0f rpm alone", b.Name, b.IdleRPMLow, b.IdleRPMHigh, engine.LeastIdleRPM, engine.MostIdleRPM)
}
