package cycle_test

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// airEvents runs a recording through an AirWatch, and returns when which cylinder was first said to lack air.
func airEvents(r *recording) (at []float64, who []int, phases map[cycle.AirPhase]int) {
	var w cycle.AirWatch
	phases = map[cycle.AirPhase]int{}
	last := cycle.AirPhase("")
	for _, s := range r.follow() {
		st := w.Push(&s)
		phases[st.Phase]++
		if st.Phase == cycle.AirLess && last != cycle.AirLess {
			at, who = append(at, s.End()), append(who, st.Cylinder)
		}
		last = st.Phase
	}
	return at, who, phases
}

// leakOf is a leak, m², as a share of the area of an idle's butterfly: some 5 mm².
const leakOf = 5.0

// A leak of 3 % of a cylinder's air is heard within 2 s of being wetted, at a calm and at a lumpy idle; it is heard to
// open again, and nothing else is heard.
func TestAirWatchFindsALeak(t *testing.T) {
	t.Parallel()
	const wet, wetS = 25.0, 4.0
	found, trials, slowest := 0, 0, 0.0
	for seed := uint64(1); seed <= effort.Of[uint64](2, 12); seed++ {
		cylinder := int(seed)%4 + 1
		c := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Lumpy: seed%2 == 0,
			Defects: make([]engine.Defect, 4)}
		c.Defects[cylinder-1].LeakMM2 = 0.03 * leakOf
		done := false
		r := recordWith(t, c, 35, nil, func(e *engine.Engine, time float64) {
			if time > wet && !done {
				e.Wet(cylinder, 1, wetS)
				done = true
			}
		})
		at, who, phases := airEvents(r)
		t.Logf("seed %d, cylinder %d: %v %v %v; opening %v", seed, cylinder, at, who, phases,
			r.truth.Cylinders[cylinder-1].Opening)
		trials++
		if len(at) == 1 && who[0] == cylinder && at[0] > wet {
			found++
			slowest = max(slowest, at[0]-wet)
		}
	}
	t.Logf("%d of %d, after %.1f s at most", found, trials, slowest)
	if found < trials || slowest > 2 {
		t.Errorf("%d of %d found, after %.1f s", found, trials, slowest)
	}
}

// A lumpy idle of ten minutes has no leak.
func TestAirWatchHearsNothing(t *testing.T) {
	t.Parallel()
	for seed := uint64(1); seed <= effort.Of[uint64](1, 3); seed++ {
		c := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Lumpy: true}
		if seed == 3 {
			c.Bank = bank.Default(2)
		}
		at, who, phases := airEvents(record(t, c, effort.Of(60.0, 620), nil))
		t.Logf("seed %d: %v %v %v", seed, at, who, phases)
		if len(at) > 0 || phases[cycle.AirWatching] < phases[cycle.AirMoved] {
			t.Errorf("seed %d: %v, cylinders %v; %v", seed, at, who, phases)
		}
	}
}
