package cycle

import (
	"math"
	"testing"

	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// A trace holds what was pushed: a sine of one cycle, looked at anywhere.
func TestTrace(t *testing.T) {
	tr := NewTracker(Config{Channels: []int{0, 2}, Ambient: 101.3})
	shape := func(s float64) float64 { return 70 + 20*math.Sin(2*math.Pi*s/0.12) }
	for i := range 2000 {
		s := sensor.Sample{Time: float64(i) / 1000, N: 3}
		s.Absolute[0], s.Absolute[2] = 50, pressure.KPa(shape(s.Time))
		tr.Push(&s)
	}
	var got [90]float64
	if !tr.Trace(2, 1.2345, 0.12, got[:]) {
		t.Fatal("no trace")
	}
	for i, v := range got {
		if want := shape(1.2345 + 0.12*float64(i)/90); math.Abs(v-want) > 0.02 {
			t.Errorf("point %d: %g, want %g", i, v, want)
		}
	}
	if tr.Trace(1, 1.95, 0.12, got[:]) {
		t.Error("a trace of samples that have not come")
	}
	if n := testing.AllocsPerRun(100, func() { tr.Trace(2, 1.2, 0.12, got[:]) }); n != 0 {
		t.Errorf("%g allocations", n)
	}
}
