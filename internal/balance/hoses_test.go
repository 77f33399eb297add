package balance

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/hoses"
)

func TestHosesAgainstTheFiringOrder(t *testing.T) {
	b := bank.Default(4) // fires 1-2-4-3
	run := func(hose [4]int, cycles int) hoses.Order {
		var h Hoses
		for k := range cycles {
			s := cycle.Span{Cycle: true, N: 4}
			for c := range 4 {
				s.State[c] = cycle.OK
				at := b.FiringAngle(hose[c])/bank.CycleDegrees + 0.31 + 0.002*float64(k%5)
				s.DipAt[c] = at - float64(int(at))
			}
			h.Push(&s)
		}
		return h.Order(&b)
	}
	if got := run([4]int{1, 2, 3, 4}, 40); got.Verdict != hoses.AsExpected || len(got.Unseen) != 0 {
		t.Errorf("straight: %+v", got)
	}
	// In a 1-2-4-3 four 2 and 3 fire a turn apart; so do 1 and 4.
	got := run([4]int{1, 3, 2, 4}, 40)
	if got.Verdict != hoses.Exchanged || len(got.Exchanged) != 1 {
		t.Errorf("2 and 3 exchanged: %+v", got)
	}
	if got := run([4]int{1, 3, 2, 4}, hoseCycles-1); got.Verdict != hoses.CannotTell {
		t.Errorf("too few cycles: %+v", got)
	}
}
