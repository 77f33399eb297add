package cycle_test

import (
	"fmt"
	"math"

	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// Two cylinders pulse at 1000 rpm, 120 ms a cycle; the means over whole cycles are
// free of the pulse.
func ExampleTracker() {
	t := cycle.NewTracker(cycle.Config{Channels: []int{0, 1}, Ambient: 101.3})
	var last cycle.Span
	for i := range 5000 {
		now := float64(i) / 1000
		s := sensor.Sample{Time: now}
		s.N = 2
		for c := range 2 {
			phase := math.Mod(now/0.12+float64(c)/2, 1) - 0.5
			s.Absolute[c] = pressure.KPa(80+float64(c)) - pressure.KPa(30*math.Exp(-phase*phase/0.005))
		}
		if span, ok := t.Push(&s); ok {
			last = *span
		}
	}
	fmt.Printf("%.0f rpm, difference %.2f kPa, ripple %.0f kPa\n", last.RPM(),
		float64(last.Mean[1]-last.Mean[0]), float64(last.Ripple(1)))
	// Output:
	// 1000 rpm, difference 1.00 kPa, ripple 30 kPa
}
