package tell

import (
	"strings"
	"testing"

	"evendraw/internal/cycle"
	"evendraw/internal/session"
)

// A recording without a cycle is not said to be of a standing engine where it pulses.
func TestWhyNoCycles(t *testing.T) {
	share := func(s cycle.State) []session.CylinderSummary {
		return []session.CylinderSummary{{}, {States: map[cycle.State]float64{s: 1}}}
	}
	for _, c := range []struct {
		cylinders []session.CylinderSummary
		seconds   float64
		want      string
	}{
		{share(cycle.OK), 0.5, "of 0.5 s"},
		{nil, 0.1, "of 0.1 s"}, // too short for any state
		{share(cycle.NoPulse), 0.5, "the engine stood"},
		{share(cycle.Ambient), 20, "the engine stood"},
		{share(cycle.OK), 20, "did not run on"},
	} {
		if got := noCycles(c.cylinders, c.seconds); !strings.Contains(got, c.want) {
			t.Errorf("%v, %g s: %q", c.cylinders, c.seconds, got)
		}
	}
}
