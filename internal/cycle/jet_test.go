package cycle_test

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
)

// A jet in a hose is found. In all hoses alike it is undone, in one alone the channel is out of the advice; no opening
// is told behind it. A difference that is off has a hose that is not told as plain.
func TestJetsInHoses(t *testing.T) {
	for row, c := range []struct {
		mm2   [2]float64     // before 2 cm³: of the first hose, and of the others; 0 is none
		kind  cycle.HoseKind // of the first; "" is any
		state cycle.State    // of the first; where all falls short alike ShowsLess is as good as Restricted
		most  float64        // kPa that a difference is off, where the channel is sound
	}{
		{[2]float64{0.3, 0.3}, cycle.JetHose, cycle.OK, 0.05}, // 0.53 before
		{[2]float64{0.2, 0}, cycle.JetHose, cycle.Restricted, 0},
		{[2]float64{0, 0}, cycle.PlainHose, cycle.OK, 0.01},
		{[2]float64{0.1, 0}, "", cycle.Restricted, 0}, // 7.4, told as sound, before
		{[2]float64{0.05, 0}, "", cycle.Restricted, 0},
		{[2]float64{0.1, 0.1}, "", cycle.OK, 0.45},
		{[2]float64{0.14, 0.14}, "", cycle.OK, 0.45},          // 0.9 before
		{[2]float64{0.2, 0.2}, cycle.JetHose, cycle.OK, 0.25}, // 2.0 before
		{[2]float64{0.25, 0.25}, cycle.JetHose, cycle.OK, 0.15},
		{[2]float64{0.4, 0.4}, cycle.JetHose, cycle.OK, 0.1},
		{[2]float64{0.5, 0.5}, "", cycle.OK, 0.16},          // 0.26 before
		{[2]float64{2, 2}, cycle.PlainHose, cycle.OK, 0.03}, // as good as none
		{[2]float64{0.3, 0}, cycle.JetHose, cycle.Restricted, 0},
	} {
		t.Run(fmt.Sprint(c.mm2), func(t *testing.T) {
			t.Parallel()
			if row > 2 {
				effort.ForWhole(t, "other jets")
			}
			seeds := uint64(1)
			if c.mm2[0] < 0.3 {
				seeds = effort.Of[uint64](1, 4)
			}
			for seed := uint64(1); seed <= seeds; seed++ {
				e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true, Alike: true}
				for i := range 4 {
					hose := engine.Hose{LagS: 1e-3, DelayS: 1.5e-3, JetMM2: c.mm2[min(i, 1)], VolumeCC: 2}
					e.Hoses = append(e.Hoses, hose)
				}
				off, last := jetErrors(record(t, e, 24, nil))
				t.Logf("%+.3f kPa, hoses %v, states %v", off, last.Hose[:4], last.State[:4])
				state := last.State[0]
				if c.kind == "" && state == cycle.ShowsLess {
					state = cycle.Restricted
				}
				if c.kind != "" && last.Hose[0] != c.kind || state != c.state {
					t.Errorf("hose %s, state %s", last.Hose[0], last.State[0])
				}
				for i := range 4 {
					plain := last.Hose[i] == cycle.PlainHose
					if c.state == cycle.OK && (math.Abs(off[i]) > c.most || math.Abs(off[i]) > 0.25 && plain) {
						t.Errorf("difference %d: %.3f kPa off, hose %s", i+1, off[i], last.Hose[i])
					}
					if !plain && last.Opening[i] > 0 && last.Hose[i] != cycle.OddHose || last.Hose[0] == "" {
						t.Errorf("opening %d: %v", i+1, last.Opening[i])
					}
				}
			}
		})
	}
}

// jetErrors returns by how much differences from cylinder 2 are off over the last seconds, kPa, and the last cycle.
func jetErrors(r *recording) (off [4]float64, last cycle.Span) {
	const from = 16.0
	var n, m float64
	for _, s := range r.follow() {
		if s.Start > from && s.Cycle {
			n++
			last = s
			for i := range off {
				off[i] += float64(s.Mean[1] - s.Mean[i])
			}
		}
	}
	var truth [4]float64
	for _, c := range r.cycles {
		if c.StartS > from {
			m++
			for i := range truth {
				truth[i] += float64(c.Draw[i] - c.Draw[1])
			}
		}
	}
	for i := range off {
		off[i] = off[i]/n - truth[i]/m
	}
	return off, last
}
