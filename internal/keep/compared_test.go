package keep

import (
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/pressure"
)

// A reading of before is compared with the cylinder that the record names, and keeps its vacuums.
func TestBeforeIsComparedAnew(t *testing.T) {
	r := balance.Reading{Reference: 3}
	draws := []pressure.KPa{22.4, 26.5, 25.3, 23.6}
	for i, d := range draws {
		c := balance.Cylinder{Cylinder: i + 1, Draw: d, Difference: d - draws[2], Uncertainty: 0.3, Opening: 1.1}
		if i == 2 {
			c.Uncertainty, c.Opening = 0, 1
		}
		r.Cylinders = append(r.Cylinders, c)
	}
	got := comparedWith(1, &r)
	for i, want := range draws {
		c := got.Cylinders[i]
		if math.Abs(float64(c.DifferenceKPa)-float64(want-draws[0])) > 1e-9 || pressure.KPa(c.DrawKPa) != want {
			t.Errorf("cylinder %d: %+v", i+1, c)
		}
	}
	if c := got.Cylinders[0]; c.UncertaintyKPa != 0 || c.OpeningRatio != 1 {
		t.Errorf("the reference: %+v", c)
	}
	if c := got.Cylinders[2]; math.Abs(float64(c.UncertaintyKPa)-0.3) > 1e-9 ||
		math.Abs(float64(c.OpeningRatio)-1/1.1) > 1e-9 {
		t.Errorf("the reference before: %+v", c)
	}
	if same := comparedWith(3, &r); same.Cylinders[1].UncertaintyKPa != 0.3 {
		t.Errorf("%+v", same.Cylinders[1])
	}
	unsure(true, got)
	if math.IsNaN(float64(got.Cylinders[1].UncertaintyKPa)) {
		t.Error("zeroed, and yet unsure")
	}
	if unsure(false, got, nil); !math.IsNaN(float64(got.SpreadUncertaintyKPa)) ||
		!math.IsNaN(float64(got.Cylinders[1].UncertaintyKPa)) {
		t.Errorf("not zeroed, and yet sure: %+v", got)
	}
}
