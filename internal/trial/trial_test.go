package trial

import (
	"context"
	"reflect"
	"testing"
)

func TestTrial(t *testing.T) {
	bikes := 5
	if testing.Short() {
		bikes = 2
	}
	run := func(workers int) []Pair {
		pairs, err := Run(context.Background(), Config{Bikes: bikes, Seed: 4, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		return pairs
	}
	pairs := run(2)
	r := Count(pairs)
	t.Logf("advised %+v", r.Tally)
	t.Logf("rival   %+v", r.Rival)
	if r.FalseDone > 0 || r.Levelled < 0.9 {
		t.Errorf("levelled %.2f, %d false", r.Levelled, r.FalseDone)
	}
	if r.Turns > 5 || r.Idle > 75 || r.Idle > r.Rival.Idle/2 { // of so few bikes; of many it is less than a third
		t.Errorf("%v turns and %.0f s of idling with the advice, %.0f s without", r.Turns, r.Idle, r.Rival.Idle)
	}
	if bikes = 1; !reflect.DeepEqual(run(1), pairs[:bikes]) {
		t.Error("another number of cores, another outcome")
	}
}
