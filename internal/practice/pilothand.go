package practice

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/advice"
	"evendraw/internal/engine"
	"evendraw/internal/mixture"
	"evendraw/internal/raised"
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
	// Far is how many turns it was told that led further than mixture.FreeTurns from where the screw stood,
	// Unexplained how many of them without a reason.
	Far, Unexplained int

	// Enter says that a turn is made; nil says nothing.
	Enter func()

	person
	of      int // the cylinder whose screw was told last, and to where
	goal    float64
	asked   bool // whether it was turned
	askedAt float64
	forgot  bool
	stop    advice.Advice
	held    bool // the raised speed
	errands errands
}

// NewPilotHand returns a hand of such habits at an engine. The seed is of its chances.
func NewPilotHand(e *engine.Engine, habits *Habits, seed uint64) *PilotHand {
	h := &PilotHand{person: person{habits, e, rand.New(rand.NewPCG(seed, 78))}}
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
	case t.Trim != nil && h.mind(&t.Trim.Advice):
	case t.Trim != nil && t.Trim.Advice.Part == advice.ThrottleStop:
		h.turnStop(&t.Trim.Advice)
	case t.Trim != nil:
		h.turnPilots(now, t.Trim)
	}
	h.errands.pass(now) // the first begins at once
}

// stillAskedS is after how long a hand that has answered sees that it is still asked, s. Chosen.
const stillAskedS = 8.0

// turnPilots turns the pilot screw that is told, at a person's pace, and says so; what it forgot it does
// when it is asked.
func (h *PilotHand) turnPilots(now float64, t *mixture.TrimState) {
	a := &t.Advice
	if !a.ToTurn(advice.PilotScrew) || a.Turns == 0 {
		return
	}
	i, asked := a.Cylinder-1, a.Why == advice.WhyTurned
	news := h.of != a.Cylinder || h.goal != t.Goal
	if !news && (!asked || h.asked && now < h.askedAt+stillAskedS) {
		return
	}
	h.askedAt = now
	h.of, h.goal, h.asked = a.Cylinder, t.Goal, asked
	if news && t.Far() {
		if h.Far++; a.Why != advice.WhyFurther && a.Why != advice.WhySet && a.Why != advice.WhyTarget &&
			a.Why != advice.WhyBack {
			h.Unexplained++
		}
	}
	switch {
	case news && h.rng.Float64() < h.habits.Forgets:
		h.forgot, h.asked = true, false // and is reminded by the question, be it there already
		return
	case news || h.forgot:
		h.forgot = false
		h.turnTo(i, h.goal)
	}
	if asked || h.habits.Presses {
		h.errands.addTimed(h.react, h.Enter)
	}
}

// turnTo turns the screw of cylinder i + 1 to a setting, counted out from where its slot stood.
func (h *PilotHand) turnTo(i int, goal float64) {
	by := 0.0
	h.errands.addTimed(func() float64 { return h.react() + h.habits.FindS }, func() {
		to := h.Start[i] + goal + h.habits.SlotError*(2*h.rng.Float64()-1)
		by = h.engine.Truth().Cylinders[i].PilotOut - to
		if h.rng.Float64() < h.habits.TooLittle {
			by /= 2
		}
		h.engine.TurnPilot(i+1, by)
		h.Moves++
		h.Turns += math.Abs(by)
	})
	h.errands.addTimed(func() float64 { return math.Abs(by) / handSpeed }, nil)
}

// mind stops an engine that is to cool, and starts one that is to run. It reports whether there was something to do.
func (h *PilotHand) mind(a *advice.Advice) bool {
	running := h.engine.Truth().Running
	switch {
	case a.Kind != advice.Wait:
		return false
	case (a.Why == advice.WhyHot || a.Why == advice.WhyRest) && running:
		h.errands.addTimed(h.react, h.engine.Stop)
	case a.Why == advice.WhyNoCycle && !running:
		h.errands.addTimed(h.react, h.engine.Start)
	default:
		return false
	}
	return true
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
	h.errands.addTimed(h.react, func() {
		h.engine.TurnStop(h.off(turns))
		h.StopMoves++
	})
}

// grip holds the raised speed when it is told, and lets go after.
func (h *PilotHand) grip(r *raised.State) {
	if want := r.Advice.Kind == advice.Turn || r.Advice.Kind == advice.Hold; want != h.held {
		h.held = want
		rpm := 0.0
		if want {
			rpm = r.TargetRPM
		}
		h.engine.HoldAt(rpm)
	}
}
