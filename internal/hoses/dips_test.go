package hoses

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// spanOfHoses is cycle number k of a four, of which each channel's hose sits on a cylinder.
func spanOfHoses(b *bank.Bank, hose [4]int, k int) *cycle.Span {
	s := &cycle.Span{Start: 0.1 * float64(k), Period: 0.1, Cycle: true, N: 4}
	for c := range 4 {
		s.State[c], s.Mean[c] = cycle.OK, 75
		at := b.FiringAngle(hose[c])/bank.CycleDegrees + 0.31 + 0.002*float64(k%5)
		s.DipAt[c] = at - float64(int(at))
	}
	return s
}

// The order of the pulses tells exchanged hoses, from some cycles on.
func TestDipsAgainstTheFiringOrder(t *testing.T) {
	b := bank.Default(4) // fires 1-2-4-3
	run := func(hose [4]int, cycles int) Order {
		var d Dips
		for k := range cycles {
			d.Push(spanOfHoses(&b, hose, k))
		}
		return d.Order(&b)
	}
	if got := run([4]int{1, 2, 3, 4}, 40); got.Verdict != AsExpected || len(got.Unseen) != 0 {
		t.Errorf("straight: %+v", got)
	}
	// In a 1-2-4-3 four 2 and 3 fire a turn apart; so do 1 and 4.
	got := run([4]int{1, 3, 2, 4}, 40)
	if got.Verdict != Exchanged || len(got.Exchanged) != 1 {
		t.Errorf("2 and 3 exchanged: %+v", got)
	}
	if got := run([4]int{1, 3, 2, 4}, Cycles-1); got.Verdict != CannotTell {
		t.Errorf("too few cycles: %+v", got)
	}
}
