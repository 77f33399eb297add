package probe

import (
	"math"
	"testing"
)

// Published examples of linear controllers, described generically.
func TestControllersPublished(t *testing.T) {
	const stoich, tol = 14.7, 1e-9
	for _, c := range []struct{ lowV, highV, lowAFR, highAFR, volts, afr float64 }{
		{0.5, 4.5, 8.5, 18, 2.0, 12.0625},
		{0, 4, 10, 16, 1.25, 11.875},
		{0, 5, 10, 20, 2.5, 15}, // derived from its end points
	} {
		p := Probe{c.lowV, c.highV, c.lowAFR / stoich, c.highAFR / stoich}
		if got := AFR(p.Lambda(c.volts), stoich); math.Abs(got-c.afr) > tol {
			t.Errorf("%+v: %v", c, got)
		}
	}
	p := Probe{0, 5, 7.35 / stoich, 22.39 / stoich} // published: lambda 0.5 to 1.523
	for _, e := range []struct{ volts, lambda float64 }{{0, 0.5}, {5, 1.523}} {
		if got := p.Lambda(e.volts); math.Abs(got-e.lambda) > 5e-4 {
			t.Errorf("%v V: %v, want %v", e.volts, got, e.lambda)
		}
	}
	if !p.AtEnd(p.Lambda(5)) || p.AtEnd(1) || !math.IsNaN(p.Lambda(5.3)) {
		t.Error("ends of the range")
	}
	// Published: 16/14.7 = 1.088; 0.97 of 14.7 is 14.259.
	if math.Abs(16/stoich-1.088) > 5e-4 || math.Abs(AFR(0.97, stoich)-14.259) > 1e-9 {
		t.Error("lambda and ratio")
	}
}
