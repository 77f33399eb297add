package nozzle

import (
	"math"
	"testing"
)

// The table of the ratios is the inverse of that of the integral.
func TestRatioIsTheInverse(t *testing.T) {
	Fill()
	for r := 0.0; r < 0.969; r += 0.0007 {
		if off := Ratio(Integral(r)) - r; math.Abs(off) > 1e-5 {
			t.Errorf("ratio %.4f comes back off by %.1e", r, off)
		}
	}
	whole, later, before := Ratio(full), Ratio(2*full), Ratio(-0.1)
	if whole != 1 || later != 1 || !(before < 0) {
		t.Errorf("full %v, later %v, before 0 %v", whole, later, before)
	}
}
