package learned

import "testing"

// Two movements that contradict each other leave a screw's direction unknown, and torn; one that has helped since, as
// told, mends that. One against two is a slip. What a movement told can be taken back.
func TestTorn(t *testing.T) {
	t.Parallel()
	k := NewScrew(0)
	if k.ObserveDirection(1, true, false); k.Torn || !k.DirectionKnown() {
		t.Errorf("one: %+v", k)
	}
	was := k
	if k.ObserveDirection(-1, true, false); !k.Torn || k.DirectionKnown() || k.LastWay != 0 {
		t.Errorf("one against it: %+v", k)
	}
	k.ForgetWay(&was)
	if k.Torn || k.Odds != was.Odds {
		t.Errorf("taken back: %+v", k)
	}
	if k.ObserveDirection(-1, false, true); k.Torn || k.Odds != 2*OnceOdds {
		t.Errorf("two: %+v", k)
	}
	if k.ObserveDirection(-1, true, false); k.Torn || !k.DirectionKnown() {
		t.Errorf("a slip: %+v", k)
	}
	if k.ObserveDirection(-1, true, false); !k.Torn || k.Odds != 0 {
		t.Errorf("another: %+v", k)
	}
	card := NewScrew(4)
	card.ObserveDirection(1, false, false)
	if card.ObserveDirection(-1, false, false); !card.Torn {
		t.Errorf("both ways led away, against a card and for it: %+v", card)
	}
}

// A sixteenth that leaves next to nothing, as play or the hand has taken it up, makes no lazy screw of a quick one, but
// amounts that do half as much again and again do.
func TestASmallAmountThatDoesNextToNothing(t *testing.T) {
	t.Parallel()
	for _, size := range []float64{3, 12, 24} {
		k := NewScrew(0)
		for range 4 {
			k.ObserveEffect(size/8, 1.0/8, ToldSpread)
		}
		halved := k
		if k.ObserveEffect(0.06, 1.0/16, ToldSpread); k.Size() < 0.5*size {
			t.Errorf("%v kPa a turn have become %.1f", size, k.Size())
		}
		for range 3 {
			halved.ObserveEffect(size/16, 1.0/8, ToldSpread)
		}
		if halved.Size() > 0.65*size {
			t.Errorf("half of %v kPa a turn seen, %.1f held", size, halved.Size())
		}
	}
}
