package engine

import (
	"math"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
)

// The hand on the grip is near the speed within some seconds, stays there, and lets go.
func TestHoldAt(t *testing.T) {
	for _, n := range effort.Of([]int{4}, []int{2, 4}) {
		e := New(Config{Bank: bank.Default(n), Seed: 3, Running: true})
		buf := make([]byte, 4800)
		run := func(s float64) (low, high float64) {
			low = math.Inf(1)
			for end := e.Truth().TimeS + s; e.Truth().TimeS < end; {
				e.Read(buf)
				low, high = min(low, e.Truth().RPM), max(high, e.Truth().RPM)
			}
			return low, high
		}
		run(2)
		idle := e.Truth().RPM
		e.HoldAt(3000)
		run(6)
		low, high := run(6)
		t.Logf("%d cylinders: %.0f to %.0f rpm", n, low, high)
		if low < 2700 || high > 3300 {
			t.Errorf("%d cylinders: held between %.0f and %.0f rpm", n, low, high)
		}
		e.HoldAt(0)
		run(10)
		if now := e.Truth().RPM; math.Abs(now-idle) > 0.1*idle {
			t.Errorf("%d cylinders: %.0f rpm after, %.0f before", n, now, idle)
		}
	}
}
