package hills

import (
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// at is a reading of two cylinders at a time, the second one's difference being so many kPa.
func at(t, difference float64, reference int) *balance.Reading {
	r := &balance.Reading{Time: t, Reference: reference}
	r.Span.Cycle = true
	r.Cylinders = make([]balance.Cylinder, 2)
	r.Cylinders[1].Difference = pressure.KPa(difference)
	return r
}

// The last half minute is kept, the newest last; another reference, or a gap, begins anew.
func TestHills(t *testing.T) {
	var h Hills
	if h.Of(0) != nil {
		t.Error("something is remembered before the first reading")
	}
	for k := range 100 {
		h.Push(at(float64(k), float64(k), 1))
	}
	got := h.Of(1)
	if n := len(got); n != points || got[n-1] != 99 || got[0] != 70 {
		t.Errorf("%d points from %g to %g", n, got[0], got[n-1])
	}
	for _, r := range []*balance.Reading{at(99.5, 5, 2), at(200, 5, 2)} {
		h.Push(r)
		if got = h.Of(1); got[points-1] != 5 || !math.IsNaN(float64(got[points-2])) {
			t.Errorf("at %g s: %g after %g", r.Time, got[points-1], got[points-2])
		}
	}
	if h.Of(most) != nil {
		t.Error("more cylinders than there can be")
	}
	r := at(200.5, 7, 2)
	r.Span = cycle.Span{}
	if h.Push(r); !math.IsNaN(float64(h.Of(1)[points-1])) {
		t.Error("a difference where there is no cycle")
	}
}
