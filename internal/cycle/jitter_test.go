package cycle_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
)

// jitter moves each frame's tick by up to 200 µs either way, as a board's clock that is read late does.
func jitter() spoiler {
	random := rand.New(rand.NewPCG(5, 6))
	return func(f *frame.Frame) bool {
		f.Tick += uint32(200 + random.IntN(401) - 200)
		return true
	}
}

// Differences hold with a clock that jitters by 200 µs either way, and with hoses that ring at 60 to 80 Hz.
func TestDifferencesWithJitterAndRinging(t *testing.T) {
	for _, c := range []struct {
		name  string
		hz    [4]float64 // at which hoses ring; 0 don't
		spoil spoiler
		most  float64 // kPa
	}{
		{"jitter", [4]float64{}, jitter(), 0.03},
		{"ringing", [4]float64{70, 60, 80, 75}, nil, 0.02},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for seed := uint64(1); seed <= effort.Of[uint64](1, 4); seed++ {
				e := idling(seed)
				for _, hz := range c.hz {
					e.Hoses = append(e.Hoses, engine.Hose{LagS: 1e-3, DelayS: 1.5e-3, RingHz: hz, RingDamping: 0.15})
				}
				off, last := jetErrors(record(t, e, effort.Of(18., 24.), c.spoil))
				t.Logf("seed %d: %+.3f kPa, openings %.2f", seed, off, last.Opening[:4])
				for i := range off {
					if math.Abs(off[i]) > c.most || !last.Cycle {
						t.Errorf("difference %d: %.3f kPa off", i+1, off[i])
					}
				}
			}
		})
	}
}
