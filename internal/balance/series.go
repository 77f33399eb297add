package balance

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evendraw/internal/pressure"
)

// Series keeps the statistics of a figure that comes once a cycle, whose
// scatter may be correlated from cycle to cycle. The zero value is empty.
type Series struct {
	n           int
	first, last float64
	// Sums of the figure minus first: of it, of its square, and of its
	// product with the one before.
	sum, squares, products float64
}

// Push adds the next value.
func (s *Series) Push(v float64) {
	if s.n == 0 {
		s.first = v
	}
	d := v - s.first
	s.sum += d
	s.squares += d * d
	s.products += d * (s.last - s.first)
	if s.n == 0 {
		s.products = 0
	}
	s.last = v
	s.n++
}

// N returns how many values there are.
func (s *Series) N() int { return s.n }

// Mean returns the mean; NaN of none.
func (s *Series) Mean() float64 { return s.first + s.sum/float64(s.n) }

// SD returns the standard deviation (n - 1); NaN of fewer than two.
func (s *Series) SD() float64 {
	if s.n < 2 {
		return math.NaN()
	}
	return math.Sqrt(s.deviations() / float64(s.n-1))
}

// deviations is the sum of squares about the mean.
func (s *Series) deviations() float64 {
	return max(s.squares-s.sum*s.sum/float64(s.n), 0)
}

// Lag1 returns the autocorrelation from one value to the next,
//
//	r = Σ(x_i - m)(x_{i-1} - m) / Σ(x_i - m)²,
//
// the definition of NIST's reference datasets; 0 where nothing varies.
func (s *Series) Lag1() float64 {
	all := s.deviations()
	if all == 0 {
		return 0
	}
	n, m := float64(s.n), s.sum/float64(s.n)
	end := s.last - s.first
	return (s.products - m*(2*s.sum-end) + (n-1)*m*m) / all
}

// maxLag1 bounds the correlation that is believed. Chosen: beyond it a window
// of 10 s says nothing.
const maxLag1 = 0.9

// effective returns the sample size that as many independent values would
// have: n (1-r)/(1+r), as for first-order autoregressive scatter (C. Geyer's
// notes: at r = 0.9, n/19). The estimate of r is low by about 1/n.
func (s *Series) effective() float64 {
	r := min(max(s.Lag1()+1/float64(s.n), 0), maxLag1)
	return max(float64(s.n)*(1-r)/(1+r), 1)
}

// HalfWidth returns that of the 95 % interval of the mean; NaN for fewer than
// three values.
func (s *Series) HalfWidth() pressure.KPa {
	if s.n < 3 {
		return pressure.KPa(math.NaN())
	}
	n := s.effective()
	return pressure.KPa(student95(n-1) * s.SD() / math.Sqrt(n))
}

// studentTable holds the 97.5 % quantile of Student's t by whole degrees of
// freedom from 1.
var studentTable = func() (t [60]float64) {
	for i := range t {
		t[i] = distuv.StudentsT{Sigma: 1, Nu: float64(i + 1)}.Quantile(0.975)
	}
	return t
}()

// student95 returns the two-sided 95 % quantile of Student's t for freedom
// degrees of freedom, at least 1.
func student95(freedom float64) float64 {
	f := max(freedom, 1)
	if f >= float64(len(studentTable)) {
		return 1.96 + 2.4/f
	}
	i := int(f)
	share := f - float64(i)
	return studentTable[i-1] + share*(studentTable[min(i, len(studentTable)-1)]-studentTable[i-1])
}
