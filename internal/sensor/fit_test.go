package sensor

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// nist reads the data of a StRD dataset, y first, as its header says: from line 61.
func nist(t *testing.T, name string, points int) (x, y []float64) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/nist/" + name + ".dat")
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(string(text), "\n") {
		var a, b float64
		if n, _ := fmt.Sscan(line, &a, &b); i >= 60 && n == 2 {
			y, x = append(y, a), append(x, b)
		}
	}
	if len(x) != points {
		t.Fatalf("%s: %d points, want %d", name, len(x), points)
	}
	return x, y
}

func wantDigits(t *testing.T, what string, got, want, digits float64) {
	t.Helper()
	if lre := -math.Log10(math.Abs(got/want - 1)); lre < digits {
		t.Errorf("%s: %.15g, certified %.15g: %.1f digits, want %g", what, got, want, lre, digits)
	}
}

// The line with errors in both, where x has none, against the certified values of NIST StRD datasets
// Norris (line) and NoInt1 (through the origin).
func TestLinesAgainstNIST(t *testing.T) {
	x, y := nist(t, "Norris", 36)
	l := fitBoth(x, y, math.Inf(1), false)
	wantDigits(t, "Norris B0", l.Intercept, -0.262323073774029, 10)
	wantDigits(t, "Norris B1", l.Slope, 1.00211681802045, 12)
	wantDigits(t, "Norris sd of B0", l.InterceptSD, 0.232818234301152, 10)
	wantDigits(t, "Norris sd of B1", l.SlopeSD, 0.429796848199937e-3, 10)
	wantDigits(t, "Norris residual sd", l.ResidualSD, 0.884796396144373, 10)

	x, y = nist(t, "NoInt1", 11)
	l = fitBoth(x, y, math.Inf(1), true)
	wantDigits(t, "NoInt1 B1", l.Slope, 2.07438016528926, 13)
	wantDigits(t, "NoInt1 sd of B1", l.SlopeSD, 0.165289256198347e-1, 12)
	wantDigits(t, "NoInt1 residual sd", l.ResidualSD, 3.56753034006338, 12)
}

// The parabola that shows a bend, against NIST StRD dataset Pontius, a load cell's calibration.
func TestParabolaAgainstNIST(t *testing.T) {
	x, y := nist(t, "Pontius", 40)
	c, sd, err := fitParabola(x, y)
	if err != nil {
		t.Fatal(err)
	}
	wantDigits(t, "Pontius B0", c[0], 0.673565789473684e-3, 10)
	wantDigits(t, "Pontius B1", c[1], 0.732059160401003e-6, 12)
	wantDigits(t, "Pontius B2", c[2], -0.316081871345029e-14, 10)
	wantDigits(t, "Pontius residual sd", sd, 0.205177424076185e-3, 10)
}

// With errors in both, the line is symmetric: x and y exchanged gives the same one. Least squares of y on x, beside
// it, is too flat.
func TestErrorsInBoth(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const slope, sd = 1.02, 0.5
	var x, y []float64
	for range 20000 {
		v := 4 * rng.Float64()
		x, y = append(x, v+sd*rng.NormFloat64()), append(y, slope*v+2*sd*rng.NormFloat64())
	}
	for _, through := range []bool{false, true} {
		t.Run(fmt.Sprint("through ", through), func(t *testing.T) {
			a, b := fitBoth(x, y, 4, through), fitBoth(y, x, 0.25, through)
			if math.Abs(a.Slope*b.Slope-1) > 1e-12 {
				t.Errorf("through %v: slopes %v and %v are not of the same line", through, a.Slope, 1/b.Slope)
			}
			if math.Abs(a.Slope-slope) > 4*a.SlopeSD || a.SlopeSD > 0.02 {
				t.Errorf("through %v: slope %v ±%v, want %v", through, a.Slope, a.SlopeSD, slope)
			}
		})
	}
	if flat := fitBoth(x, y, math.Inf(1), false).Slope; flat > 0.95*slope {
		t.Errorf("least squares gives %v: the errors in x are too small to show anything", flat)
	}
}
