package session

import (
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/sensor"
)

// TestHosesChangeTheDipNotTheMean prints what hoses of rising lag do to the
// figures of one cylinder of a level four, the others having short hoses: the
// table of hardware-notes. The mean must stay.
func TestHosesChangeTheDipNotTheMean(t *testing.T) {
	t.Parallel()
	last, seconds := math.Inf(1), effort.Of(12.0, 25)
	for _, lagMS := range effort.Of([]float64{1, 20}, []float64{0.5, 1, 2, 4, 8, 20, 50}) {
		hoses := []engine.Hose{{LagS: lagMS / 1e3, DelayS: 1.5e-3}, {LagS: 1e-3, DelayS: 1.5e-3},
			{LagS: 1e-3, DelayS: 1.5e-3}, {LagS: 1e-3, DelayS: 1.5e-3}}
		e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 5, Running: true, Level: true, Alike: true,
			NoSensorErrors: true, Hoses: hoses})
		var truth [2]float64
		var cycles int
		e.OnCycle(func(c engine.Cycle) {
			truth[0] += float64(c.Draw[0] - c.Draw[1])
			cycles++
		})
		var last10 *balance.Reading
		var difference, ripple float64
		var n int
		chain := NewChain(Config{Setup: sensor.Setup{Ambient: engine.DefaultAmbient}, Zeroed: true,
			Ambient: engine.DefaultAmbient, Reference: 2}, func(r *balance.Reading) {
			last10 = r
			if r.Time > 5 && r.Span.Cycle {
				difference += float64(r.Cylinders[0].Draw - r.Cylinders[1].Draw)
				ripple += float64(r.Cylinders[0].Ripple)
				n++
			}
		})
		buf := make([]byte, 4096)
		for last10 == nil || last10.Time < seconds {
			k, err := e.Read(buf)
			if err != nil {
				t.Fatal(err)
			}
			if err := chain.Feed(buf[:k]); err != nil {
				t.Fatal(err)
			}
		}
		ripple /= float64(n)
		off := difference/float64(n) - truth[0]/float64(cycles)
		t.Logf("lag %4.1f ms: ripple %5.1f kPa, mean off by %+.3f kPa, state %s", lagMS, ripple, off,
			last10.Cylinders[0].State)
		if math.Abs(off) > 0.03 || ripple >= last {
			t.Errorf("lag %g ms: mean off by %.3f kPa, ripple %.2f after %.2f", lagMS, off, ripple, last)
		}
		last = ripple
	}
}
