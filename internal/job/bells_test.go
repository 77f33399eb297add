package job

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
)

func TestBellsRingOneByOne(t *testing.T) {
	stop := &balance.Reading{Advice: advice.Advice{Kind: advice.Stop}}
	rings := func(b *bells, r *balance.Reading, ticks int) (n int, last bool) {
		for range ticks {
			ring := b.due(r)
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
	b := &bells{on: true}
	if n, _ := rings(b, nil, 5); n != 0 {
		t.Errorf("%d rings for nothing", n)
	}
	if n, _ := rings(b, stop, 40); n != 2 {
		t.Errorf("stop rings %d times, want 2", n)
	}
	rings(b, &balance.Reading{Advice: advice.Advice{Kind: advice.Done, Why: advice.WhyLevel}}, 2) // broken off after the first
	if n, _ := rings(b, stop, 40); n != 2 {
		t.Errorf("stop after a level that was broken off rings %d times, want 2", n)
	}
	if n, _ := rings(&bells{}, stop, 10); n != 0 {
		t.Error("rings though not asked to")
	}
}
