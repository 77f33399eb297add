package session_test

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/advice"
)

// strangeHand is somebody who turns what the large letters say, and glances up now and then. Chosen.
type strangeHand struct {
	glance, react float64 // s between glances, and to act on one
	rate, runOn   float64 // turns/s, and turns made after the word to stop
	slips         float64 // share by which an amount is off, one standard deviation
	late          float64 // s more until it begins
	wrong, idles  float64 // share of amounts that it makes the other way, that it does not make
	noKeys        bool    // it presses none

	rig     *strangeRig
	rng     *rand.Rand
	word    advice.Advice // that stands, as it was seen
	seen    float64       // since when
	obeyed  bool
	next    float64 // when it looks again
	busy    float64 // until when it reaches for something
	release float64 // when it lets go
	letGo   float64 // when the throttle is let go
	key     func()  // to press once it is done
	screw   *strangeScrew
	begin   float64 // turns to make once it is there
	left    float64 // turns still to make
	way     float64
	made    float64 // turns of the last movement
	done    bool    // the bank was told level
}

var (
	careful = strangeHand{glance: 1.4, react: 0.4, rate: 0.06, runOn: 0.004, slips: 0.08}
	hasty   = strangeHand{glance: 2.2, react: 0.7, rate: 0.15, runOn: 0.03, slips: 0.2}
)

// move turns the screw in hand, and the throttle, for one step.
func (h *strangeHand) move() {
	if h.left > 0 {
		d := min(h.rate*strangeStep, h.left)
		h.screw.turn(h.way * d)
		h.left -= d
	}
	if h.rig.engine.grip > 0 && h.rig.engine.t > h.letGo {
		h.rig.engine.grip = 0
	}
}

// toTurn reports whether a word is of the screw in hand, to be turned the way it is turned.
func (h *strangeHand) toTurn(a *advice.Advice) bool {
	return h.ofScrew(a) && (a.Direction == advice.UnknownWay || a.Direction.Sign() == h.way)
}

func (h *strangeHand) ofScrew(a *advice.Advice) bool {
	return a.ToTurn(advice.SyncScrew) && h.rig.engine.screws[a.Screw] == h.screw
}

// act is what it does at one look.
func (h *strangeHand) act() {
	a, now := &h.rig.newest.Advice, h.rig.engine.t
	if now < h.next || now < h.busy {
		return
	}
	if h.begin > 0 {
		if h.ofScrew(a) {
			h.left, h.release = h.begin, math.Inf(1)
		} else {
			h.obeyed = false
		}
		h.begin = 0
	}
	h.next = now + h.glance*(0.6+0.8*h.rng.Float64())
	if h.left > 0 {
		h.next = now + 0.3 + 0.3*h.rng.Float64()
	}
	if !a.Same(&h.word) {
		h.word, h.seen, h.obeyed = *a, now, false
	}
	switch {
	case h.left > 0:
		h.whileTurning(a, now)
	case h.key != nil:
		if !h.noKeys {
			h.key()
		}
		h.key = nil
	case h.obeyed && a.Why == advice.WhyBlip && now > h.seen+4: // it was not seen
		h.obeyed, h.seen = false, now
	case !h.obeyed && now > h.rig.told+0.3:
		h.obey(a, now)
	}
}

// whileTurning has it let go where it is told something else.
func (h *strangeHand) whileTurning(a *advice.Advice, now float64) {
	if h.toTurn(a) {
		h.release, h.obeyed = math.Inf(1), true
		return
	}
	if h.release = min(h.release, now+h.react); now < h.release {
		h.next = h.release
		return
	}
	h.left, h.release = min(h.left, h.runOn), math.Inf(1)
}

// obey begins what it is told.
func (h *strangeHand) obey(a *advice.Advice, now float64) {
	chain := h.rig.chain
	switch {
	case a.Why == advice.WhyNuts:
		if a.Screw >= 0 {
			s := h.rig.engine.screws[a.Screw]
			shift := s.nut * h.rng.NormFloat64()
			s.head, s.wedge, s.tight = s.head+shift, s.wedge+shift, true
		}
		h.busy, h.obeyed, h.key = now+2.5, true, chain.NutTight
	case a.Why == advice.WhyKeepOn || a.Why == advice.WhySlower:
		h.obeyed = true
	case a.ToTurn(advice.SyncScrew):
		h.reach(a, now)
	case a.Why == advice.WhyBlip:
		h.rig.engine.grip, h.letGo, h.obeyed = 4, now+0.6, true
	case a.Why == advice.WhyNoAnswer && now > h.seen+3, a.Kind == advice.Fault && now > h.seen+6:
		if h.obeyed = true; !h.noKeys {
			chain.GoOn()
		}
	case a.Kind == advice.Done || a.Part == advice.ThrottleStop:
		h.done = true
	}
}

// reach has it go to a screw, open its lock nut, and turn it then.
func (h *strangeHand) reach(a *advice.Advice, now float64) {
	s := h.rig.engine.screws[a.Screw]
	way, turns := a.Direction.Sign(), a.Turns
	if a.Direction == advice.UnknownWay {
		if way = h.way; a.Kind == advice.Reverse {
			way = -way
		}
	}
	switch {
	case math.IsNaN(turns) && a.Why == advice.WhyTurnBack:
		turns = h.made
	case math.IsNaN(turns): // until it is told to stop
		turns = 1
	default:
		turns *= max(0.3, 1+h.slips*h.rng.NormFloat64())
	}
	h.busy = now + 0.8 + 0.8*h.rng.Float64()
	if s != h.screw {
		h.busy += 1.5
	}
	if s.tight {
		h.busy += 1.2
		s.tight = false
	}
	h.busy += h.late
	h.next = h.busy // it looks once more then
	if h.rng.Float64() < h.wrong {
		way = -way
	}
	if h.rng.Float64() < h.idles {
		h.obeyed = true
		return
	}
	h.screw, h.way, h.begin, h.made, h.obeyed = s, way, turns, turns, true
}
