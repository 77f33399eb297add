package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
)

// onceHand makes what it is told, an eighth of a turn a second, half a second after the word; once more where the
// same stands for againS.
type onceHand struct {
	heard advice.Advice
	made  float64 // when it last moved, or heard
	due   float64 // when it acts on that
	left  float64 // turns still to make
	way   float64
	last  float64 // turns made in the last movement, clockwise positive
}

// follow lets the hand act for one cycle of a bench on what it is told.
func (h *onceHand) follow(b *bench, a *advice.Advice) {
	const pace, react, againS = 0.125, 0.5, 4
	turn := a.ToTurn(advice.SyncScrew)
	alike := a.Turns == h.heard.Turns || math.IsNaN(a.Turns) && math.IsNaN(h.heard.Turns)
	same := a.Kind == h.heard.Kind && a.Direction == h.heard.Direction && a.Screw == h.heard.Screw && alike &&
		(turn || a.Why == h.heard.Why)
	goesOn := same || turn && a.Screw == h.heard.Screw && a.Why == advice.WhyKeepOn
	if !goesOn || turn && b.time > h.made+againS {
		h.heard, h.due, h.made = *a, b.time+react, b.time
	}
	if b.time >= h.due && !math.IsInf(h.due, 1) {
		h.due, h.left = math.Inf(1), 0
		switch {
		case h.heard.Why == advice.WhyBlip:
			b.blip = 16
		case !h.heard.ToTurn(advice.SyncScrew):
		default:
			h.way, h.left = turnOf(&h.heard, h.last)
			h.last = 0
		}
	}
	step := min(h.left, pace*0.115)
	h.last += step * h.way
	if h.left -= step; step > 0 {
		h.made = b.time
	}
	if step > 0 {
		for _, c := range b.bank.Screws[h.heard.Screw].Moves {
			b.draw[c-1] += step * h.way * b.effect[h.heard.Screw]
		}
	}
}

// A direction that was learned from a movement that was not the hand's is unlearned with the hand's first: the wrong
// way is told once, of a hundred screws twice at most.
func TestAReversedScrewIsUnlearned(t *testing.T) {
	screws, twice := 0, 0
	for seed := range uint64(20) {
		for _, effect := range []float64{3, -3, 8, -8, 15, -15} {
			b := newBench(2, seed)
			b.scatter, b.effect[0] = 0.04, effect
			st := New(Config{Bank: b.bank, Ambient: 101.3})
			r := untilTold(t, b, st)
			if r.Advice.Why != advice.WhyTry {
				continue
			}
			// The draws move as if the screw did the opposite of what it does.
			moved := b.bank.Screws[0].Moves[0] - 1
			step := -math.Copysign(0.07, effect) * r.Advice.Direction.Sign()
			for range 10 {
				b.draw[moved] += step
				s := b.span()
				r = st.Push(&s)
			}
			wrong, last, done := 0, r.Advice, false
			hand := onceHand{heard: r.Advice, made: b.time, due: math.Inf(1)} // which has slipped
			for end := b.time + 90; b.time < end && !done; {
				s := b.span()
				r := st.Push(&s)
				a := &r.Advice
				if a.Kind == advice.Stop || a.ToTurn(advice.SyncScrew) &&
					(a.Direction != last.Direction || last.Kind == advice.Stop) {
					last = *a
					leads := a.Direction.Sign() * effect * (b.draw[1-moved] - b.draw[moved])
					if a.Kind != advice.Stop && a.Direction != advice.UnknownWay && leads < -1 {
						wrong++
					}
				}
				hand.follow(b, a)
				done = a.Kind == advice.Done
			}
			screws++
			if wrong == 2 {
				twice++
			}
			if !done || wrong > 2 {
				t.Errorf("seed %d, %v kPa a turn: the wrong way %d times, done %v", seed, effect, wrong, done)
			}
		}
	}
	if t.Logf("of %d screws %d twice", screws, twice); screws < 50 || twice*50 > screws {
		t.Error("too many")
	}
}
