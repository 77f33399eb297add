package plain

import (
	"math"
	"testing"
)

func TestFractions(t *testing.T) {
	t.Parallel()
	for turns, want := range map[float64]string{0.125: "1/8", 0.25: "1/4", 0.0625: "1/16", 1: "1", 1.5: "1 1/2", 0: "0",
		-0.75: "3/4"} {
		t.Run(want, func(t *testing.T) {
			if got := Fraction(turns); got != want {
				t.Errorf("%v turns are %q, want %q", turns, got, want)
			}
		})
	}
	if got := Fraction(math.NaN()); got != "" {
		t.Errorf("unknown turns are %q", got)
	}
}
