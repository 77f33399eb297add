package practice

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/mixture"
	"evendraw/internal/session"
)

// PilotHand is the virtual mechanic at pilot screws, throttle stop and twist grip. It counts a
// pilot screw's turns from where its slot stood, so that its errors don't add up.
type PilotHand struct {
	// Start is where the pilot screws stood at first, turns out.
	Start []float64
	// Moves is how often a pilot screw, StopMoves the throttle stop, was turned; Turns by how much
	// the pilot screws were in all.
	Moves, StopMoves int
	Turns            float64

	habits  *Habits
	engine  *engine.Engine
	rng     *rand.Rand
	told    [bank.MaxCylinders]float64
	stop    advice.Advice
	held    bool // the raised speed
	errands errands
}

// NewPilotHand returns a hand of such habits at an engine. The seed is of its chances.
func NewPilotHand(e *engine.Engine, habits *Habits, seed uint64) *PilotHand {
	h := &PilotHand{habits: habits, engine: e, rng: rand.New(rand.NewPCG(seed, 78))}
	for _, c := range e.Truth().Cylinders {
		h.Start = append(h.Start, c.PilotOut)
	}
	return h
}

// Counted is where the pilot screws stood at first as they are counted in, to an eighth, turns out.
func (h *PilotHand) Counted() []float64 { return countedIn(h.Start) }

// Pass does what is due at that time, s.
func (h *PilotHand) Pass(now float64) { h.errands.pass(now) }

// Away reports whether the hand is at something else than looking.
func (h *PilotHand) Away() bool { return h.errands.busy() }

// Look is one glance at what the stages after levelling say, at that time.
func (h *PilotHand) Look(now float64, t *session.Tune) {
	switch {
	case t.Raised != nil:
		h.grip(t.Raised)
	case t.Trim != nil && t.Trim.Advice.Part == advice.ThrottleStop:
		h.turnStop(&t.Trim.Advice)
	case t.Trim != nil:
		h.turnPilots(t.Trim)
	}
	h.errands.pass(now) // the first begins at once
}

// turnPilots turns each pilot screw that is told to stand elsewhere.
func (h *PilotHand) turnPilots(t *mixture.TrimState) {
	for i := range t.Cylinders {
		moved := t.Pilots[i].Moved
		if moved == h.told[i] {
			continue
		}
		h.told[i] = moved
		by := 0.0
		h.errands.list = append(h.errands.list, errand{h.react, func() {
			to := h.Start[i] + moved + h.habits.SlotError*(2*h.rng.Float64()-1)
			by = h.engine.Truth().Cylinders[i].PilotOut - to
			h.engine.TurnPilot(i+1, by)
			h.Moves++
			h.Turns += math.Abs(by)
		}}, errand{func() float64 { return math.Abs(by) / handSpeed }, nil})
	}
}

// react is how long it takes from seeing to turning, this time.
func (h *PilotHand) react() float64 {
	return h.habits.LeastReact + (h.habits.MostReact-h.habits.LeastReact)*h.rng.Float64()
}

// turnStop turns the throttle stop once for each advice.
func (h *PilotHand) turnStop(a *advice.Advice) {
	if !a.ToTurn(advice.ThrottleStop) {
		h.stop = advice.Advice{}
		return
	}
	if a.Kind == h.stop.Kind && a.Direction == h.stop.Direction {
		return
	}
	h.stop = *a
	turns := a.SignedTurns()
	h.errands.list = append(h.errands.list, errand{h.react, func() {
		h.engine.TurnStop(turns * (1 + h.habits.TurnError*(2*h.rng.Float64()-1)))
		h.StopMoves++
	}})
}

// grip holds the raised speed when it is told, and lets go after.
func (h *PilotHand) grip(r *mixture.RaisedState) {
	if want := r.Advice.Kind == advice.Turn || r.Advice.Kind == advice.Hold; want != h.held {
		h.held = want
		rpm := 0.0
		if want {
			rpm = r.TargetRPM
		}
		h.engine.HoldAt(rpm)
	}
}
