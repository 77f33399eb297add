package mixture

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// belief is what is held of a coefficient before the data: its mean and standard
// deviation; a deviation of 0 is no belief at all.
type belief struct{ mean, sd float64 }

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
func regress(x *mat.Dense, y []float64, beliefs []belief) (r regression, ok bool) {
	n, p := x.Dims()
	if n <= p {
		return r, false
	}
	sigma := 0.0
	for range sigmaRounds {
		if r, ok = regressWith(x, y, beliefs, sigma); !ok {
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
func regressWith(x *mat.Dense, y []float64, beliefs []belief, sigma float64) (r regression, ok bool) {
	n, p := x.Dims()
	held := 0
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
