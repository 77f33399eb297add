package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// A hand that is asked for a lock nut, presses no key and has gone on to the screw that was told to come next is
// followed there, soon or late: it is not told to turn that screw back.
func TestAHandThatHasGoneOnFromANut(t *testing.T) {
	const banks, turned = 30, 0.2
	for _, after := range []int{30, 150} { // cycles
		nuts, followed, blamed := 0, 0, 0
		for seed := range uint64(banks) {
			b := newBench(4, seed)
			b.scatter = 0.04
			bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			var a advice.Advice
			for b.time < 120 && !(a.Why == advice.WhyNuts && a.Next != "") {
				a = b.run(bal, 1, true).Advice
			}
			nut := a
			for k := 0; k < after && a.Same(&nut); k++ {
				a = b.run(bal, 1, false).Advice
			}
			if !a.Same(&nut) || nut.Next == "" {
				continue
			}
			nuts++
			next := 0
			for s := range b.bank.Screws {
				if b.bank.Screws[s].Name == nut.Next {
					next = s
				}
			}
			seen := false
			for k := range 60 {
				if k < 32 {
					b.turn(next, nut.NextWay.Sign()*turned/32)
				}
				a = b.run(bal, 1, false).Advice
				seen = seen || a.ScrewName == nut.Next && a.Kind != advice.Recheck
				if a.Why == advice.WhyOtherScrew {
					blamed++
					break
				}
			}
			if seen {
				followed++
			}
		}
		t.Logf("%d cycles after the nut was asked for: of %d hands %d are followed, %d told to turn back", after, nuts,
			followed, blamed)
		if nuts < banks*3/4 || followed < nuts*7/8 || blamed > 0 {
			t.Error("not followed, or blamed")
		}
	}
}
