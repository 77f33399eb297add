package mixture

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// belief is what is held of a coefficient before the data: its mean and standard
// deviation; a deviation of 0 is no belief at all.
type belief struct{ mean, sd float64 }

// combination is what is held of a sum of coefficients, each times its weight.
type combination struct {
	belief
	weights []float64
}

// regression is a linear least-squares fit: coefficients, their covariance, and the residual standard deviation.
type regression struct {
	coef  []float64
	cov   *mat.SymDense
	sigma float64
}

// regress fits y = X·coef by least squares through a QR decomposition, X having as many columns as there are beliefs.
// Beliefs enter as further rows, weighted by the residuals' standard deviation, which is found together with the fit.
// ok is false when X does not determine the coefficients.
//
// Without beliefs it is ordinary least squares: NIST's Pontius to 10 digits.
func regress(x *mat.Dense, y []float64, beliefs []belief, sums ...combination) (r regression, ok bool) {
	n, p := x.Dims()
	if n <= p {
		return r, false
	}
	sigma := 0.0
	for range sigmaRounds {
		if r, ok = regressWith(x, y, beliefs, sums, sigma); !ok {
			return r, false
		}
		sigma = r.sigma
	}
	return r, true
}

// sigmaRounds is how often the residual scatter is put into the beliefs' weight.
// Chosen: the third changes nothing that shows.
const sigmaRounds = 3

// regressWith is one round: beliefs weigh as for a residual deviation sigma, 0
// leaving them out but for a trace that keeps the fit determined.
func regressWith(x *mat.Dense, y []float64, beliefs []belief, sums []combination, sigma float64) (r regression,
	ok bool) {
	n, p := x.Dims()
	held := len(sums)
	for _, b := range beliefs {
		if b.sd > 0 {
			held++
		}
	}
	a, rhs := mat.NewDense(n+held, p, nil), mat.NewVecDense(n+held, nil)
	a.Slice(0, n, 0, p).(*mat.Dense).Copy(x)
	copy(rhs.RawVector().Data, y)
	row := n
	for j, b := range beliefs {
		if b.sd > 0 {
			w := max(sigma, 1e-3) / b.sd
			a.Set(row, j, w)
			rhs.SetVec(row, w*b.mean)
			row++
		}
	}
	for _, c := range sums {
		w := max(sigma, 1e-3) / c.sd
		for j, v := range c.weights {
			a.Set(row, j, w*v)
		}
		rhs.SetVec(row, w*c.mean)
		row++
	}
	var qr mat.QR
	qr.Factorize(a)
	coef := mat.NewVecDense(p, nil)
	if err := qr.SolveVecTo(coef, false, rhs); err != nil {
		return r, false
	}
	var fitted mat.VecDense
	fitted.MulVec(x, coef)
	squares := 0.0
	for i := range n {
		d := y[i] - fitted.AtVec(i)
		squares += d * d
	}
	r.coef = coef.RawVector().Data
	r.sigma = math.Sqrt(squares / float64(n-p))
	var upper, inverse mat.Dense
	qr.RTo(&upper)
	if err := inverse.Inverse(upper.Slice(0, p, 0, p)); err != nil {
		return r, false
	}
	r.cov = mat.NewSymDense(p, nil)
	r.cov.SymOuterK(r.sigma*r.sigma, &inverse)
	return r, true
}

// sd returns the standard deviation of coefficient j.
func (r *regression) sd(j int) float64 { return math.Sqrt(r.cov.At(j, j)) }

// peak returns where b·u + c·u² is largest and the standard deviation of that, b and c being the coefficients at those
// places; ok is false unless c is below 0 by twice its standard deviation.
//
//	u = -b/(2c),  var = (vb - 2(b/c) vbc + (b/c)² vc)/(4c²)
func (r *regression) peak(jb, jc int) (u, sd float64, ok bool) {
	b, c := r.coef[jb], r.coef[jc]
	if c+2*r.sd(jc) >= 0 {
		return math.NaN(), math.NaN(), false
	}
	q := b / c
	v := (r.cov.At(jb, jb) - 2*q*r.cov.At(jb, jc) + q*q*r.cov.At(jc, jc)) / (4 * c * c)
	return -q / 2, math.Sqrt(v), true
}
