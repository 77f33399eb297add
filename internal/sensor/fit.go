package sensor

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// fitLine returns the least-squares line y = intercept + slope·x.
func fitLine(x, y []float64) (intercept, slope float64) {
	return stat.LinearRegression(x, y, nil, false)
}

// line is a straight line fitted with errors in both variables.
type line struct {
	Intercept, Slope     float64
	InterceptSD, SlopeSD float64 // standard deviations of the estimates
	ResidualSD           float64 // of y about the line
}

// fitBoth fits a straight line to x and y, both of which have errors, ratio being the variance of
// y's errors over that of x's; +Inf is least squares of y on x. With through set the line goes
// through the origin; there are n-1 degrees of freedom then, else n-2. The slope is Deming's:
//
//	b = (d + sqrt(d² + 4·ratio·Sxy²)) / (2 Sxy),  d = Syy - ratio·Sxx
//
// Its standard deviation is that of least squares, which holds as long as x's errors are small
// beside its span. Source: W. E. Deming, Statistical Adjustment of Data (1943), the
// formula from memory; its two limits are checked against NIST StRD.
func fitBoth(x, y []float64, ratio float64, through bool) line {
	n := float64(len(x))
	var mx, my float64
	if !through {
		mx, my = stat.Mean(x, nil), stat.Mean(y, nil)
	}
	var sxx, syy, sxy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		sxx, syy, sxy = sxx+dx*dx, syy+dy*dy, sxy+dx*dy
	}
	var l line
	if math.IsInf(ratio, 1) {
		l.Slope = sxy / sxx
	} else {
		d := syy - ratio*sxx
		l.Slope = (d + math.Sqrt(d*d+4*ratio*sxy*sxy)) / (2 * sxy)
	}
	l.Intercept = my - l.Slope*mx
	rss := 0.0
	for i := range x {
		r := y[i] - l.Intercept - l.Slope*x[i]
		rss += r * r
	}
	free := n - 2
	if through {
		free = n - 1
	}
	l.ResidualSD = math.Sqrt(rss / free)
	l.SlopeSD = l.ResidualSD / math.Sqrt(sxx)
	if !through {
		l.InterceptSD = l.ResidualSD * math.Sqrt(1/n+mx*mx/sxx)
	}
	return l
}

// fitParabola returns the least-squares parabola y = c0 + c1·x + c2·x², and the standard
// deviation of y about it. It scales x beforehand, so that large ones lose no digits.
func fitParabola(x, y []float64) (c [3]float64, residualSD float64, err error) {
	scale := 0.0
	for _, v := range x {
		scale = max(scale, math.Abs(v))
	}
	a := mat.NewDense(len(x), 3, nil)
	for i, v := range x {
		u := v / scale
		a.SetRow(i, []float64{1, u, u * u})
	}
	var sol mat.VecDense
	if err := sol.SolveVec(a, mat.NewVecDense(len(y), append([]float64(nil), y...))); err != nil {
		return c, 0, err
	}
	rss := 0.0
	for i, v := range x {
		u := v / scale
		r := y[i] - sol.AtVec(0) - u*(sol.AtVec(1)+u*sol.AtVec(2))
		rss += r * r
	}
	c = [3]float64{sol.AtVec(0), sol.AtVec(1) / scale, sol.AtVec(2) / (scale * scale)}
	return c, math.Sqrt(rss / float64(len(x)-3)), nil
}
