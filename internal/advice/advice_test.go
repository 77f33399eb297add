package advice_test

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/advice"
)

// A stage makes an advice, and fills in what New leaves unknown.
func ExampleNew() {
	a := advice.New(advice.Turn, advice.ThrottleStop, advice.WhyLow)
	a.Direction, a.Turns = advice.Anticlockwise, 0.125
	fmt.Println(a.Kind, a.Part, a.Direction, a.Turns, a.Why)
	fmt.Println(a.ToTurn(advice.ThrottleStop), a.ToTurn(advice.SyncScrew), a.SignedTurns())
	// Output:
	// turn throttle-stop anticlockwise 0.125 low
	// true false -0.125
}

func TestNewLeavesAllElseUnknown(t *testing.T) {
	t.Parallel()
	a := advice.New(advice.Wait, advice.NoPart, advice.WhyCold)
	if a.Screw != advice.NoScrew || a.ScrewName != "" || a.Cylinder != 0 || a.Direction != advice.UnknownWay ||
		!math.IsNaN(a.SignedTurns()) {
		t.Errorf("%+v", a)
	}
}

func TestDirections(t *testing.T) {
	t.Parallel()
	for d, want := range map[advice.Direction]struct {
		opposite advice.Direction
		sign     float64
	}{
		advice.Clockwise:     {advice.Anticlockwise, 1},
		advice.Anticlockwise: {advice.Clockwise, -1},
		advice.UnknownWay:    {advice.UnknownWay, 1},
	} {
		if d.Opposite() != want.opposite || d.Sign() != want.sign ||
			d != advice.UnknownWay && advice.WayOf(d.Sign()) != d {
			t.Errorf("%q: opposite %q, sign %v", d, d.Opposite(), d.Sign())
		}
	}
}

// Two advices are the same where all but remarks is; unknown amounts are alike.
func TestSame(t *testing.T) {
	t.Parallel()
	a := advice.New(advice.Turn, advice.SyncScrew, advice.WhyTry)
	for name, c := range map[string]struct {
		change func(b *advice.Advice)
		same   bool
	}{
		"nothing": {func(b *advice.Advice) {}, true}, "last": {func(b *advice.Advice) { b.Last = 2 }, true},
		"amount":   {func(b *advice.Advice) { b.Turns = 0.25 }, false},
		"why":      {func(b *advice.Advice) { b.Why = "" }, false},
		"cylinder": {func(b *advice.Advice) { b.Cylinder = 1 }, false},
		"screw":    {func(b *advice.Advice) { b.Screw = 0 }, false},
	} {
		b := a
		if c.change(&b); a.Same(&b) != c.same || b.Same(&a) != c.same {
			t.Errorf("%s: same %v", name, !c.same)
		}
	}
}
