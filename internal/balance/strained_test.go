package balance

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// A level bank that draws little is in doubt until it is said that every cylinder fires; that holds until the engine
// is seen to draw as an idle does. What is said where there is more to doubt, or of no level bank, tells nothing.
func TestThatEveryCylinderFiresIsSaid(t *testing.T) {
	b := bank.Default(4)
	for _, c := range []struct {
		name string
		ill  advice.Why // of cylinder 2
		kind advice.Kind
		said bool
	}{{"level", "", advice.Done, true}, {"ill", advice.WhyDisagree, advice.Done, false},
		{"not level", "", advice.Turn, false}} {
		t.Run(c.name, func(t *testing.T) {
			bal := New(Config{Bank: b, Ambient: 101.3})
			k := 0
			idle := func(draw pressure.KPa) Halts {
				var h Halts
				for range 80 {
					s := spanOfHoses(&b, [4]int{1, 2, 3, 4}, k)
					for i := range s.N {
						s.Mean[i] = 101.3 - draw
					}
					k++
					h = bal.Push(s).Halts
				}
				return h
			}
			if h := idle(12); !h.LowDraw || h.FiresSaid || !h.Doubt() {
				t.Fatalf("at 12 kPa: %+v", h)
			}
			bal.told.Kind = c.kind
			bal.gate.faults.Found[1] = c.ill
			bal.GoOn()
			bal.gate.faults.Found[1] = ""
			if h := idle(12); h.LowDraw == c.said || h.FiresSaid != c.said || h.Doubt() == c.said {
				t.Errorf("said: %+v", h)
			}
			if h := idle(25); h != (Halts{}) {
				t.Errorf("at 25 kPa: %+v", h)
			}
			if h := idle(12); !h.LowDraw || h.FiresSaid {
				t.Errorf("at 12 kPa again: %+v", h)
			}
		})
	}
}
