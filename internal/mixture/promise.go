package mixture

import "math"

// drawn is how many laws stand for all where it is asked what a look would tell, outcomes how many of what it may tell.
// Chosen: four times as many choose the same.
const drawn, outcomes = 192, 12

// law is one of them: where it is best, and the speed at the setting that is thought of.
type law struct{ peak, rpm, share float64 }

// draw draws laws, each as likely as the others, the same each time.
func (e *estimate) draw() (d [drawn]*cell) {
	sum, n := 0.0, 0
	for i := range e.cells {
		for sum += e.cells[i].weight; n < drawn && (float64(n)+0.5)/drawn < sum; n++ {
			d[n] = &e.cells[i]
		}
	}
	for ; n < drawn; n++ {
		d[n] = &e.cells[len(e.cells)-1]
	}
	return d
}

// promise returns by which share a look at u would lessen the variance of the peak, of what it may tell on average; v
// is the variance of a look.
func (e *estimate) promise(d *[drawn]*cell, u, v float64) float64 {
	var laws [drawn]law
	var sum, square float64
	top := e.topVariance()
	for i, c := range d {
		by, kind := sizes[c.size]*e.unit*fall(c.shape, u, c.peak), kind(c.shape)
		off := by * lawShares[kind]
		laws[i] = law{c.peak, c.top - by, 1 / (2 * (v + top + off*off))}
		sum, square = sum+c.peak, square+c.peak*c.peak
	}
	mean, left := sum/drawn, 0.0
	for k := range outcomes {
		is := laws[(2*k+1)*drawn/(2*outcomes)].rpm
		var w, p, pp float64
		for i := range laws {
			l := &laws[i]
			z := (l.rpm - is) * (l.rpm - is) * l.share
			if z > 20 {
				continue
			}
			z = math.Sqrt(l.share) * math.Exp(-z)
			w, p, pp = w+z, p+z*l.peak, pp+z*l.peak*l.peak
		}
		left += pp/w - p/w*(p/w)
	}
	return 1 - left/outcomes/max(square/drawn-mean*mean, 1e-9)
}

// loses returns by how much the settled speed at a setting is expected to be below that at the peak, rpm.
func (e *estimate) loses(d *[drawn]*cell, u float64) float64 {
	sum := 0.0
	for _, c := range d {
		sum += sizes[c.size] * e.unit * (fall(c.shape, u, c.peak) - fall(c.shape, e.peak, c.peak))
	}
	return sum / drawn
}
