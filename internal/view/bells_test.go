package view

import (
	"testing"

	"evendraw/internal/balance"
)

func TestBells(t *testing.T) {
	t.Parallel()
	turn := balance.Advice{Kind: balance.Turn, Why: balance.WhyTry, Screw: 1, Direction: balance.Clockwise}
	with := func(kind balance.Kind, why balance.Why) balance.Advice {
		a := turn
		a.Kind, a.Why = kind, why
		return a
	}
	back := with(balance.Reverse, balance.WhyAway)
	back.Direction = balance.Anticlockwise
	wait := balance.Advice{Kind: balance.Wait, Why: balance.WhyFewCycles, Screw: -1}
	for _, c := range []struct {
		name      string
		prev, now balance.Advice
		want      int
	}{
		{"named", wait, turn, 1}, {"unchanged", turn, turn, 0}, {"slower", turn, with(balance.Turn, balance.WhySlower), 1},
		{"stop", turn, with(balance.Stop, balance.WhyReached), 2}, {"other way", turn, back, 3},
		{"wrong screw", turn, with(balance.Recheck, balance.WhyOtherScrew), 3}, {"blip", wait, with(balance.Recheck, balance.WhyBlip), 1},
		{"fault", wait, with(balance.Fault, balance.WhyChannel), 3}, {"level", wait, with(balance.Done, balance.WhyLevel), 4},
		{"waiting", turn, wait, 0}, {"nobody turns", turn, with(balance.Turn, balance.WhyNoAnswer), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := BellFor(c.prev, c.now); got != c.want {
				t.Errorf("%d bells, want %d", got, c.want)
			}
		})
	}
}
