package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// A cylinder that never fires is a fault for as long as it is so, however the speed moves, and no screw is named; one
// in eight is not that.
func TestADeadCylinderIsAFault(t *testing.T) {
	for every, dead := range map[int]bool{1: true, 8: false} {
		b := newBench(4, 1)
		b.draw = []float64{25, 25, 25, 29}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		turns := 0
		var r Reading
		for k := range 200 {
			s := b.span()
			s.Misfire[3] = k%every == 0
			if r = bal.Push(&s); r.Advice.Kind == advice.Turn {
				turns++
			}
		}
		if told := r.Advice.Why == advice.WhyDead && r.Advice.Cylinder == 4; told != dead || dead != (turns < 10) {
			t.Errorf("misfires one time in %d: %+v, turns told in %d cycles", every, r.Advice, turns)
		}
		b.blip = 8 // the speed moves
		for range 16 {
			s := b.span()
			if r = bal.Push(&s); dead && r.Advice.Kind != advice.Fault {
				t.Fatalf("no longer told: %+v", r.Advice)
			}
		}
		if bal.GoOn(); dead && b.run(bal, 20, false).Advice.Why == advice.WhyDead {
			t.Error("put aside, and told again")
		}
	}
}
