package mixture

import (
	"bufio"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"fmt"

	"gonum.org/v1/gonum/mat"
)

var update = flag.Bool("update", false, "renew the golden files")

// pontius reads the data of NIST's Pontius: a load cell's deflection against load.
func pontius(t *testing.T) (x, y []float64) {
	t.Helper()
	f, err := os.Open("../../testdata/nist/Pontius.dat")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		var a, b float64
		words := strings.ContainsAny(lines.Text(), "abcdefghijklmnopqrstuvwxyz")
		if _, err := fmt.Sscan(lines.Text(), &a, &b); n > 60 && err == nil && !words {
			y, x = append(y, a), append(x, b)
		}
	}
	return x, y
}

// The quadratic fit against NIST's certified values (Statistical Reference Datasets,
// Pontius: 40 observations).
func TestRegressPontius(t *testing.T) {
	const tol = 1e-9 // relative; the certified values have 15 digits
	xs, y := pontius(t)
	if len(xs) != 40 {
		t.Fatalf("%d observations", len(xs))
	}
	x := mat.NewDense(len(xs), 3, nil)
	for i, v := range xs {
		x.SetRow(i, []float64{1, v, v * v})
	}
	r, ok := regress(x, y, nil)
	if !ok {
		t.Fatal("no fit")
	}
	for j, want := range []struct{ coef, sd float64 }{
		{0.673565789473684e-3, 0.107938612033077e-3},
		{0.732059160401003e-6, 0.157817399981659e-9},
		{-0.316081871345029e-14, 0.486652849992036e-16},
	} {
		if math.Abs(r.coef[j]/want.coef-1) > tol || math.Abs(r.sd(j)/want.sd-1) > tol {
			t.Errorf("B%d: %.15g (%.15g), certified %.15g (%.15g)", j, r.coef[j], r.sd(j), want.coef, want.sd)
		}
	}
	if math.Abs(r.sigma/0.205177424076185e-3-1) > tol {
		t.Errorf("residual deviation %.15g", r.sigma)
	}
}

// Too few rows give no fit, nor do rows that can't tell the coefficients.
func TestNoFit(t *testing.T) {
	x, y := mat.NewDense(8, 3, nil), make([]float64, 8)
	for i := range y {
		x.SetRow(i, []float64{1, float64(i % 2), float64(i % 2)})
		y[i] = float64(i)
	}
	if _, ok := regress(mat.DenseCopyOf(x.Slice(0, 3, 0, 3)), y[:3], nil); ok {
		t.Error("three rows fit three coefficients")
	}
	if _, ok := regress(x, y, nil); ok {
		t.Error("two settings tell a parabola")
	}
}

// Beliefs hold what data don't tell, and yield to data that do.
func TestBeliefs(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	fit := func(n int) float64 {
		x, y := mat.NewDense(n, 2, nil), make([]float64, n)
		for i := range y {
			u := float64(i % 2)
			x.SetRow(i, []float64{1, u})
			y[i] = 3*u + rng.NormFloat64()
		}
		r, _ := regress(x, y, []belief{{}, {mean: 1, sd: 0.2}})
		return r.coef[1]
	}
	if few, many := fit(6), fit(5000); math.Abs(few-1) > 0.6 || math.Abs(many-3) > 0.15 {
		t.Errorf("6 rows: %.2f, 5000 rows: %.2f; believed 1, true 3", few, many)
	}
}
