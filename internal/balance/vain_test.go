package balance

import (
	"math"
	"testing"
)

// What has moved nothing twice is told with more, up to firstTurns; but by what is known of the screw no more than a
// try does, as nobody may have turned it.
func TestMoreIsToldWithinBounds(t *testing.T) {
	for _, c := range []struct {
		effect, told float64 // kPa a turn; turns
		times        int
		want         float64 // turns
	}{
		{4, 3.0 / 16, 1, 3.0 / 16},  // once may be a hand that is elsewhere
		{4, 3.0 / 16, 2, 3.0 / 8},   // 1.5 kPa
		{24, 1.0 / 16, 2, 1.0 / 16}, // 1.5 kPa as it is
		{24, 1.0 / 32, 2, 1.0 / 16},
		{2, 1.0 / 4, 3, firstTurns},
	} {
		b := newBench(2, 1)
		b.bank.Screws[0].EffectKPaPerTurn = c.effect
		a := newAdvisor(&Config{Bank: b.bank})
		a.vain[0] = inVain{times: c.times, turns: c.told}
		if got := a.more(0, c.told); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%v kPa a turn, %v turns %d times in vain: %v, want %v", c.effect, c.told, c.times, got, c.want)
		}
	}
}
