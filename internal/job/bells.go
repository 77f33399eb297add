package job

import (
	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/view"
)

// bellTicks is how many ticks of the screen lie between two rings: a terminal's bell
// that rings at once rings once. Chosen: a fifth of a second.
const bellTicks = 4

// bells rings the advice, one ring at a time.
type bells struct {
	on    bool
	told  advice.Advice
	left  int // rings still to come
	ticks int // until the next
}

// due takes the newest reading at each tick of the screen, nil for none, and reports
// whether to ring now.
func (b *bells) due(r *balance.Reading) bool {
	if !b.on || r == nil {
		return false
	}
	if n := view.BellFor(b.told, r.Advice); n > 0 {
		b.left, b.ticks = n, 0 // news break off what was ringing
	}
	b.told = r.Advice
	if b.ticks--; b.left == 0 || b.ticks >= 0 {
		return false
	}
	b.left, b.ticks = b.left-1, bellTicks
	return true
}
