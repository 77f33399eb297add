package learned

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What a hand turns on after the word to stop is learned from a few stops: at one pace the sum of lag
// and run-on, at two paces each.
func TestAHandIsLearned(t *testing.T) {
	const lag, runOn = 1.6, 0.08
	rng := rand.New(rand.NewPCG(1, 1))
	h := NewHand(Hand{})
	before, sd := h.Overrun(0.25)
	for k := range 8 {
		pace := []float64{0.25, 0.06}[k%2]
		h.Observe(pace, pace*(lag+0.1*rng.NormFloat64())+runOn+0.01*rng.NormFloat64(), 0.01)
	}
	for _, pace := range []float64{0.06, 0.125, 0.25} {
		turns, doubt := h.Overrun(pace)
		if want := pace*lag + runOn; math.Abs(turns-want) > 0.025 || doubt > sd {
			t.Errorf("at %v turns a second %.3f turns ± %.3f, want %.3f; at first %.3f ± %.3f at 0.25", pace, turns,
				doubt, want, before, sd)
		}
	}
}

// A hand that the card tells of is known at once, and another's is learned anew.
func TestAHandOfTheCard(t *testing.T) {
	known := Hand{Lag: 1.6, RunOn: 0.08}
	h, strange := NewHand(known), NewHand(Hand{})
	turns, sd := h.Overrun(0.25)
	if _, doubt := strange.Overrun(0.25); math.Abs(turns-0.48) > 1e-9 || sd > 0.8*doubt || h.Learned() {
		t.Errorf("%.3f turns ± %.3f, ± %.3f of a strange hand", turns, sd, doubt)
	}
	for range 6 {
		h.Observe(0.25, 0.25*0.6+0.02, 0.01)
	}
	if turns, _ := h.Overrun(0.25); math.Abs(turns-0.17) > 0.02 || !h.Learned() {
		t.Errorf("after six stops of a quick hand %.3f turns", turns)
	}
}

// A hand that has hardly begun, and one that stops halfway, make no weak screw of one whose effect is known.
func TestAHandThatStopsEarlyTeachesLittle(t *testing.T) {
	k := NewScrew(4)
	k.ObserveEffect(0.07, 0.25, ToldSpread)
	k.ObserveEffect(0.6, 0.375, ToldSpread)
	if k.Size() < 3 {
		t.Errorf("4 kPa a turn have become %.2f", k.Size())
	}
}
