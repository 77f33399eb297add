package mixture

import (
	"math"

	"evendraw/internal/bank"
)

// againTurns is how far from where it was set a screw's best must lie, by what the others have told of the law since,
// to be set anew, turns. Chosen: what is less is not worth the turn.
const againTurns = 2.0 / 32

// again is the round at the end in which screws are set anew by what the others have told since of the law that all
// follow.
type again struct {
	made bool
	done [bank.MaxCylinders]*estimate
}

// keepTold keeps what a cylinder's looks told, for the others and for the round at the end.
func (t *Trim) keepTold(p *Pilot) {
	e := t.est
	if p.Found != AtPeak && p.Found != Unsure && p.Found != ToSet || !e.ok || math.IsNaN(p.Uncertainty) {
		return
	}
	t.dynamics.learn(p.Cylinder, &e)
	t.again.done[p.Cylinder-1] = &e
}

// setAnew weighs the laws of all cylinders by what the others told, and begins to set those anew whose best is
// elsewhere than it was taken to be. It reports false where none is.
func (t *Trim) setAnew() bool {
	if t.again.made {
		return false
	}
	t.again.made = true
	for i := range t.cfg.Cylinders {
		p, e := &t.state.Pilots[i], t.again.done[i]
		if e == nil {
			continue
		}
		prior := t.dynamics.shapes.of(i + 1)
		t.bound(p)
		e.reweigh(&prior, t.lowOut, t.highOut)
		p.Best, p.Uncertainty, p.GainRPM = e.peak, e.doubt(), e.change(0, p.Moved).mean
		if p.Found != ToSet {
			p.Found = e.found()
		}
		if math.Abs(e.peak-p.Moved) > againTurns && e.peak >= t.lowOut && e.peak <= t.highOut {
			t.order = append(t.order, p.Cylinder)
		}
	}
	if len(t.order) == 0 {
		return false
	}
	t.setNext()
	return true
}

// found is how a screw ends that is set where the peak is believed to be.
func (e *estimate) found() Found { return foundAt(e.peak, e.doubt()) }

// doubt is the half-width of the peak's 95 % interval that is told, turns: the speeds' and the hand's.
func (e *estimate) doubt() float64 { return math.Hypot(1.96*e.sd, handTurns) }

// foundAt is that of a peak, in turns out from where the screw stood, and what is told of its doubt.
func foundAt(peak, u float64) Found {
	if u <= math.Hypot(answerTurns, handTurns) && math.Abs(peak) <= farTurns {
		return AtPeak
	}
	return Unsure
}

// setNext tells the next screw that is to be set anew.
func (t *Trim) setNext() {
	p := t.pilot()
	t.turnedOut, t.far = p.Moved, true
	t.est = *t.again.done[p.Cylinder-1]
	t.curve.clear(t.speeds.mean(t.speeds.cycles()), t.now, t.turnedOut, belief{})
	t.bound(p)
	t.state.Points, t.state.NPoints = [MaxPoints]Point{}, 0
	t.finishAt(t.est.peak, t.est.found())
}

// bound bounds the current screw by its travel.
func (t *Trim) bound(p *Pilot) {
	t.lowOut, t.highOut = -mostFromStart, mostFromStart
	if !math.IsNaN(p.StartOut) {
		t.lowOut, t.highOut = min(leastOut-p.StartOut, 0), max(mostOut-p.StartOut, 0)
	}
	t.shun(t.stalled.at[p.Cylinder-1])
}
