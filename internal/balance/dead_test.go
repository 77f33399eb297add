package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
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

// A hose that is perhaps a jet, the others not, is told once, and the levelling goes on; where all are, it is not. It
// is in doubt no longer once it is seen to be free.
func TestAHoseThatIsHalfBlockedIsTold(t *testing.T) {
	for jets, want := range map[int]bool{0: false, 1: true, 4: false} {
		b := newBench(4, 1)
		b.draw = []float64{25, 25, 25, 29}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		told, turns := 0, 0
		var r Reading
		for range 300 {
			s := b.span()
			for c := range jets {
				s.Hose[c], s.Opening[c] = cycle.PerhapsJet, math.NaN()
			}
			switch r = bal.Push(&s); {
			case r.Advice.Why == advice.WhyHalfBlocked && r.Advice.Cylinder == 1:
				told++
			case r.Advice.Kind == advice.Turn:
				turns++
			}
		}
		if (told > 20) != want || turns == 0 || (r.Cylinders[0].Doubt == advice.WhyHalfBlocked) != want {
			t.Errorf("%d jets: told in %d cycles, turns in %d; %+v", jets, told, turns, r.Cylinders[0])
		}
		for range jetCycles + 10 { // it is seen to be free
			s := b.span()
			r = bal.Push(&s)
		}
		if r.Cylinders[0].Doubt != "" {
			t.Errorf("%d jets: still in doubt: %+v", jets, r.Cylinders[0])
		}
	}
}
