package trial

import (
	"context"
	"reflect"
	"sync/atomic"
	"testing"

	"evendraw/internal/effort"
)

// Five bikes of all kinds, and the first again on another number of cores; plainly two twins.
func TestTrial(t *testing.T) {
	t.Parallel()
	cfg := effort.Of(Config{Bikes: 2, Seed: 4, Linkage: "twin"}, Config{Bikes: 5, Seed: 4})
	run := func(bikes, workers int) []Pair {
		cfg.Bikes, cfg.Workers = bikes, workers
		pairs, err := Run(context.Background(), cfg)
		if err != nil {
			t.Fatal(err)
		}
		return pairs
	}
	pairs := run(cfg.Bikes, 2)
	r := Count(pairs)
	t.Logf("advised %+v", r.Tally)
	t.Logf("rival   %+v", r.Rival)
	if r.FalseDone > 0 || r.Levelled < 0.9 {
		t.Errorf("levelled %.2f, %d false", r.Levelled, r.FalseDone)
	}
	share := effort.Of(0.75, 0.65) // of so few bikes, and of two that scatter more
	if r.Turns > 5 || r.Idle > 75 || r.Idle > share*r.Rival.Idle {
		t.Errorf("%v turns and %.0f s of idling with the advice, %.0f s without", r.Turns, r.Idle, r.Rival.Idle)
	}
	if effort.Whole() && !reflect.DeepEqual(run(1, 1), pairs[:1]) {
		t.Error("another number of cores, another outcome")
	}
}

// Each bike is done once, on any number of cores, and what is done is told in turn.
func TestSpread(t *testing.T) {
	for _, workers := range []int{0, 1, 2, 7} {
		const count = 20
		var times [count]atomic.Int32
		told := 0
		err := spread(context.Background(), count, workers, func(done, of int) {
			if told++; done != told || of != count {
				t.Errorf("%d workers: told %d of %d, want %d of %d", workers, done, of, told, count)
			}
		}, func(n int) { times[n].Add(1) })
		for n := range times {
			if got := times[n].Load(); got != 1 {
				t.Errorf("%d workers: number %d was done %d times", workers, n, got)
			}
		}
		if err != nil || told != count {
			t.Errorf("%d workers: %d told, %v", workers, told, err)
		}
	}
}
