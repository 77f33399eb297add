package voice

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
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

func TestBellsRingOneByOne(t *testing.T) {
	stop := &balance.Reading{Advice: advice.Advice{Kind: advice.Stop}}
	rings := func(b *Bells, r *balance.Reading, ticks int) (n int, last bool) {
		for range ticks {
			ring := b.Due(r)
			if ring {
				n++
			}
			if ring && last {
				t.Error("two rings in a row")
			}
			last = ring
		}
		return n, last
	}
	b := &Bells{On: true}
	if n, _ := rings(b, nil, 5); n != 0 {
		t.Errorf("%d rings for nothing", n)
	}
	if n, _ := rings(b, stop, 40); n != 2 {
		t.Errorf("stop rings %d times, want 2", n)
	}
	rings(b, &balance.Reading{Advice: advice.Advice{Kind: advice.Done, Why: advice.WhyLevel}},
		2) // broken off after the first
	if n, _ := rings(b, stop, 40); n != 2 {
		t.Errorf("stop after a level that was broken off rings %d times, want 2", n)
	}
	if n, _ := rings(&Bells{}, stop, 10); n != 0 {
		t.Error("rings though not asked to")
	}
}
