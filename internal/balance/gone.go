package balance

import (
	"math"

	"evendraw/internal/advice"
)

// goneOnBy returns by how much the screw has moved, kPa, that was told to come after the lock nut; 0 where it has not.
func (a *advisor) goneOnBy(w *window) float64 {
	c, s := &a.check, a.check.next
	if s < 0 || w.cycles() < recentCycles || w.next-a.phaseCycle < recentCycles || w.jumped() {
		return 0
	}
	now := w.lately()
	d, misfit := w.link.Moved(s, &c.rest.scaled, &now.scaled)
	if misfit > othersMisfit || math.Abs(d) < max(a.leastChange(s, w), w.wandersBy(s),
		w.disturbance(s, &c.rest, a.phaseCycle)) {
		return 0
	}
	return d
}

// goneOnTo takes a hand that has gone on to the screw that was told to come next, and turns it, for one that is done
// with the lock nut, though nobody has said so.
func (a *advisor) goneOnTo(next int, w *window) advice.Advice {
	rest, moved := a.check.rest, a.goneOnBy(w)
	a.tighten(w)
	if adv := a.nameScrew(next, &rest, w); a.phase != asking {
		return adv
	}
	return a.handMoves(next, moved, w)
}
