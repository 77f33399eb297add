package balance

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
	h := newHand(Hand{})
	before, sd := h.overrun(0.25)
	for k := range 8 {
		pace := []float64{0.25, 0.06}[k%2]
		h.observe(pace, pace*(lag+0.1*rng.NormFloat64())+runOn+0.01*rng.NormFloat64(), 0.01)
	}
	for _, pace := range []float64{0.06, 0.125, 0.25} {
		turns, doubt := h.overrun(pace)
		if want := pace*lag + runOn; math.Abs(turns-want) > 0.025 || doubt > sd {
			t.Errorf("at %v turns a second %.3f turns ± %.3f, want %.3f; at first %.3f ± %.3f at 0.25", pace, turns,
				doubt, want, before, sd)
		}
	}
}

// A hand that the card tells of is known at once, and another's is learned anew.
func TestAHandOfTheCard(t *testing.T) {
	known := Hand{Lag: 1.6, RunOn: 0.08}
	h, strange := newHand(known), newHand(Hand{})
	turns, sd := h.overrun(0.25)
	if _, doubt := strange.overrun(0.25); math.Abs(turns-0.48) > 1e-9 || sd > 0.8*doubt || h.Learned() {
		t.Errorf("%.3f turns ± %.3f, ± %.3f of a strange hand", turns, sd, doubt)
	}
	for range 6 {
		h.observe(0.25, 0.25*0.6+0.02, 0.01)
	}
	if turns, _ := h.overrun(0.25); math.Abs(turns-0.17) > 0.02 || !h.Learned() {
		t.Errorf("after six stops of a quick hand %.3f turns", turns)
	}
}

// Where passages join the runners a screw moves all cylinders: the solver learns how.
func TestJoinedRunnersAreLearned(t *testing.T) {
	b := newBench(4, 1)
	w := &window{n: 4}
	w.link, _ = newLinkage(&b.bank)
	column := perCylinder{1, 0.25, -0.1, -0.15} // of screw 1-2
	mean := 0.25
	for c := range column {
		column[c] -= mean
	}
	from := state{scaled: perCylinder{27, 24, 25, 24}}
	for k := range 4 {
		to := from
		for c := range 4 {
			to.scaled[c] += column[c] * (2 + float64(k))
		}
		w.learnColumn(0, &from, &to)
	}
	off := perCylinder{25 + 3*column[0], 25 + 3*column[1], 25 + 3*column[2], 25 + 3*column[3]}
	x := w.link.wanted(&off)
	if left := w.link.spreadLeft(&x, 1); math.Abs(x[1])+math.Abs(x[2]) > 0.45 || left > 0.5 {
		t.Errorf("3 kPa of screw 1-2 off: wanted %.2f, it alone leaves %.2f", x, left)
	}
}

// A hand that has hardly begun, and one that stops halfway, make no weak screw of one whose effect is known.
func TestAHandThatStopsEarlyTeachesLittle(t *testing.T) {
	k := newScrewModel(4)
	k.observeEffect(0.07, 0.25, toldSpread)
	k.observeEffect(0.6, 0.375, toldSpread)
	if k.size() < 3 {
		t.Errorf("4 kPa a turn have become %.2f", k.size())
	}
}
