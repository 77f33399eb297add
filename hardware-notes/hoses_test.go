package hardwarenotes

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// lagMS is the lag of a hose of length and bore, both m, with a jet 5 mm long of
// that bore at its far end, 0 for none, and 1 cm³ in the sensor: resistance by
// Hagen and Poiseuille, 128 μ L/(π d⁴), times volume over pressure; half of the
// hose's own resistance counts for the hose's own volume.
func lagMS(length, bore, jet float64) float64 {
	const viscosity, pressure, sensor, jetLength = 18.2e-6, 75e3, 1e-6, 5e-3
	resistance := func(length, bore float64) float64 { return 128 * viscosity * length / (math.Pi * math.Pow(bore, 4)) }
	r, h := 0.0, resistance(length, bore)
	if jet > 0 {
		r = resistance(jetLength, jet)
	}
	volume := math.Pi / 4 * bore * bore * length
	return 1e3 * ((r+h/2)*volume + (r+h)*sensor) / pressure
}

// TestHoseTable checks the README's figures.
func TestHoseTable(t *testing.T) {
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range [][2]float64{{0.3, 3}, {0.5, 3}, {0.5, 4}, {1.0, 4}} {
		row := fmt.Sprintf("| %.1f m, %.0f mm |", h[0], h[1])
		for _, jet := range []float64{0, 0.6, 0.5, 0.4, 0.3} {
			row += fmt.Sprintf(" %.1f |", lagMS(h[0], h[1]/1e3, jet/1e3))
		}
		if !strings.Contains(string(text), row) {
			t.Errorf("README.md does not have %s", row)
		}
	}
	if corner := 1 / (2 * math.Pi * 1e3 * 330e-9); math.Abs(corner-482) > 0.5 {
		t.Errorf("corner %g Hz", corner)
	}
}
