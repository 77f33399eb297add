package session

import (
	"testing"

	"evendraw/internal/mixture"
)

// Pilot screws in a trial position that were turned back count as where they stood; those that were found, and what a
// snapshot holds, stay.
func TestPilotsPutBack(t *testing.T) {
	t.Parallel()
	c := NewChain(Config{}, nil)
	given := []mixture.Pilot{{Cylinder: 1, Found: mixture.AtPeak, StartOut: 2, Out: 2.5, Moved: 0.5},
		{Cylinder: 2, Found: mixture.Trimming, StartOut: 2, Out: 1.375, Moved: -0.625}}
	c.SetPilots(given)
	c.PutPilotsBack()
	if p := c.Tune().Pilots; p[0] != given[0] || p[1].Moved != 0 || p[1].Out != 2 || p[1].Found.Final() ||
		given[1].Moved != -0.625 {
		t.Errorf("%+v of %+v", p, given)
	}
}
