package view

import (
	"testing"

	"evendraw/internal/advice"
)

func TestBells(t *testing.T) {
	t.Parallel()
	turn := advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, Why: advice.WhyTry, Screw: 1,
		Direction: advice.Clockwise}
	with := func(kind advice.Kind, why advice.Why) advice.Advice {
		a := turn
		a.Kind, a.Why = kind, why
		return a
	}
	back := with(advice.Reverse, advice.WhyAway)
	back.Direction = advice.Anticlockwise
	wait := advice.Advice{Kind: advice.Wait, Why: advice.WhyFewCycles, Screw: -1}
	for _, c := range []struct {
		name      string
		prev, now advice.Advice
		want      int
	}{
		{"named", wait, turn, 1}, {"unchanged", turn, turn, 0},
		{"slower", turn, with(advice.Turn, advice.WhySlower), 1},
		{"stop", turn, with(advice.Stop, advice.WhyReached), 2}, {"other way", turn, back, 3},
		{"wrong screw", turn, with(advice.Recheck, advice.WhyOtherScrew), 3},
		{"blip", wait, with(advice.Recheck, advice.WhyBlip), 1},
		{"fault", wait, with(advice.Fault, advice.WhyChannel), 3},
		{"level", wait, with(advice.Done, advice.WhyLevel), 4},
		{"waiting", turn, wait, 0}, {"nobody turns", turn, with(advice.Turn, advice.WhyNoAnswer), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := BellFor(c.prev, c.now); got != c.want {
				t.Errorf("%d bells, want %d", got, c.want)
			}
		})
	}
}
