package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// cell is one law: how likely it is, where it is best, and how fast there, rpm from the base.
type cell struct {
	shape, size       int
	peak, top, weight float64
}

// estimate is what a curve says. Speeds are in rpm, screws in turns out from the start.
type estimate struct {
	ok    bool // there is a fit
	known bool // there is a peak
	slip  bool // a turn was not made as confirmed
	// peak is the mean of where it may be; within 1.96 sd of that it is by 95 %.
	peak, sd float64
	// flat is how much likelier the speeds are where the cylinder does not answer than of a sound one.
	flat         float64
	levels       levels
	refused      []float64 // settings that the engine does not bear
	beyond       int       // levels that it does not bear either
	log          float64   // logarithm of how likely the levels are by all laws
	cells        []cell
	unit         float64    // rpm/turn² of size 1
	topSD        [2]float64 // of each cell, by kind
	prior        table
	within       float64 // like sd, were it known whether the law is even
	first, last  int     // where the peak may be, in peakSteps
	back         belief
	base, gain   float64 // gain: of the settled speed over a cycle's
	scatter      float64
	above, below float64 // chances that the peak lies outside the travel
}

// estimate fits the levels, then asks which laws they follow.
func (t *Trim) estimate() (e estimate) {
	c := &t.curve
	e.base, e.refused, e.unit = c.base, c.refused, usualBend*t.baseRPM/float64(t.cfg.Cylinders)
	var ok bool
	if e.levels, e.back, e.gain, e.scatter, ok = c.levels(&t.dynamics); !ok {
		return e
	}
	e.ok = true
	t.weigh(&e)
	e.known = len(e.levels.u) > 1 && 1.96*e.sd <= mostDoubt
	return e
}

// mostDoubt is the half-width up to which there is a peak in sight, turns. Chosen.
const mostDoubt = 0.75

// expected returns the estimate before any data.
func (t *Trim) expected() (e estimate) {
	e.unit = usualBend * t.baseRPM / float64(t.cfg.Cylinders)
	t.weigh(&e)
	return e
}

// grid is what all laws are weighed on: room that is used again.
type grid struct {
	log  []float64 // logarithm of each law's weight, by peak, shape and size
	tops []float64 // what a fall of size 1 adds to the top, by peak and shape
	h    []float64
}

// lay weighs each law of the grid by the levels.
func (t *Trim) lay(e *estimate) (ws [2]weighed, most, flat float64) {
	low, high := t.lowOut-beyond, t.highOut+beyond
	ws, far := e.near(&low, &high, t.dropRPM())
	e.first = int(math.Ceil(low / peakStep))
	e.last = max(int(math.Floor(high/peakStep)), e.first)
	most, flat = t.grid.fill(e, &ws, far, t.dropRPM())
	return ws, most, flat
}

// weigh weighs all laws by the levels.
func (t *Trim) weigh(e *estimate) {
	s := &t.dynamics.shapes
	if !s.begun {
		s.begin(t.richer())
	}
	e.prior = s.of(t.current())
	ws, most, flat := t.lay(e)
	e.topSD = [2]float64{ws[0].topSD, ws[1].topSD}
	if e.keep(&t.grid, &ws, most); len(e.cells) == 0 { // of levels that are no figures
		e.ok = false
		return
	}
	var sound, sum float64
	for i := range e.cells {
		c := &e.cells[i]
		if sum += c.weight; sizes[c.size] >= soundSize {
			sound += c.weight
		}
	}
	e.flat, e.log = math.Exp(flat-most)/sound, e.beyondLog(t.baseRPM)+most+math.Log(sum)
	for i := range e.cells {
		e.cells[i].weight /= sum
	}
	e.peaks(t.lowOut, t.highOut)
}

// fill weighs each law, and returns the logarithms of the largest weight and of that of the levels where the cylinder
// does not answer, as of a sound one.
func (g *grid) fill(e *estimate, ws *[2]weighed, far []float64, drop float64) (most, flat float64) {
	g.log, g.tops = g.log[:0], g.tops[:0]
	g.h = slices.Grow(g.h[:0], len(ws[0].y))[:len(ws[0].y)]
	var logs table
	var sound [2]float64
	for i := range logs {
		for j, w := range e.prior[i] {
			if logs[i][j] = math.Log(w); sizes[j] >= soundSize {
				sound[kind(i)] += w
			}
		}
	}
	peaks := 0.0
	most = math.Inf(-1)
	for k := e.first; k <= e.last; k++ {
		p := float64(k) * peakStep
		prior := 1 / (1 + p*p/(likelyOff*likelyOff))
		peaks += prior
		prior = math.Log(prior)
		for shape := range nShapes {
			if e.prior[shape][0] == 0 {
				continue
			}
			w := &ws[kind(shape)]
			for i, u := range w.u {
				g.h[i] = e.unit * fall(shape, u, p)
			}
			hy, hh, top := w.products(g.h)
			g.tops = append(g.tops, top)
			least := e.far(far, shape, p)
			for j, size := range sizes {
				weight := logs[shape][j] + prior + w.like - (2*size*hy+size*size*hh)/2
				if z := (farLeast*drop - size*least) / (farDoubt * drop); z > 0 {
					weight -= z * z / 2
				}
				most = max(most, weight)
				g.log = append(g.log, weight)
			}
		}
	}
	like := max(ws[0].like, ws[1].like)
	return most, like + math.Log(peaks*(sound[0]*math.Exp(ws[0].like-like)+sound[1]*math.Exp(ws[1].like-like)))
}

// keep keeps the likely laws of a grid, with weights of which the largest is 1.
func (e *estimate) keep(g *grid, ws *[2]weighed, most float64) {
	least, n := most+logLikely, 0
	for _, w := range g.log {
		if w > least {
			n++
		}
	}
	e.cells = make([]cell, 0, n)
	at, row := 0, 0
	for k := e.first; k <= e.last; k++ {
		for shape := range nShapes {
			if e.prior[shape][0] == 0 {
				continue
			}
			for j, size := range sizes {
				if w := g.log[at]; w > least {
					top := ws[kind(shape)].top + size*g.tops[row]
					e.cells = append(e.cells, cell{shape, j, float64(k) * peakStep, top, math.Exp(w - most)})
				}
				at++
			}
			row++
		}
	}
}

// far returns what a law of size 1 lets the speed fall by where the engine does not bear it: at that setting of them at
// which it falls least.
func (e *estimate) far(at []float64, shape int, p float64) float64 {
	least := math.Inf(1)
	for _, u := range at {
		least = min(least, e.unit*fall(shape, u, p))
	}
	return least
}

// peaks fills in where the peak may be.
func (e *estimate) peaks(lowOut, highOut float64) {
	at := make([]float64, e.last-e.first+1)
	e.peak, e.above, e.below = 0, 0, 0
	var kinds [2]struct{ weight, sum, square float64 } // even and not
	for i := range e.cells {
		c := &e.cells[i]
		at[int(math.Round(c.peak/peakStep))-e.first] += c.weight
		e.peak += c.weight * c.peak
		if c.peak > highOut {
			e.above += c.weight
		}
		if c.peak < lowOut {
			e.below += c.weight
		}
		k := &kinds[kind(c.shape)]
		k.weight, k.sum, k.square = k.weight+c.weight, k.sum+c.weight*c.peak, k.square+c.weight*c.peak*c.peak
	}
	v := 0.0
	for _, k := range kinds {
		if k.weight > 0 {
			v += k.square - k.sum*k.sum/k.weight
		}
	}
	e.within = math.Sqrt(max(v, 0))
	const share = 0.95
	low, high := 0.0, float64(len(at))
	for range 20 { // until the steps within the reach have that share
		reach, sum := (low+high)/2, 0.0
		for k, w := range at {
			off := math.Abs(float64(e.first+k) - e.peak/peakStep)
			sum += w * min(max(reach-off+0.5, 0), 1)
		}
		if sum < share {
			low = reach
		} else {
			high = reach
		}
	}
	e.sd = high * peakStep / 1.96
}

// weighed are the levels near the top, with what their covariance makes of them.
type weighed struct {
	u, y       []float64
	inner      *mat.SymDense // the inverse covariance, less what the top takes
	ones       []float64     // what each adds to the top
	top, topSD float64
	like       float64 // logarithm of how likely the levels are without a fall
}

// dropRPM is the fall of the speed from its best beyond which a setting is none that the engine bears.
func (t *Trim) dropRPM() float64 {
	return min(fallShare/float64(t.cfg.Cylinders), mostDrop) * t.baseRPM
}

// near returns the levels that are near the best of them, and bounds where the peak may be by the others.
func (e *estimate) near(low, high *float64, drop float64) (w [2]weighed, far []float64) {
	best := math.Inf(-1)
	at, top := 0.0, 0
	for i, rpm := range e.levels.rpm {
		if rpm > best && !e.levels.off[i] {
			best, at, top = rpm, e.levels.u[i], i
		}
	}
	bound := func(u float64) {
		if u < at {
			*low = max(*low, u)
		} else if u > at {
			*high = min(*high, u)
		}
	}
	if !math.IsInf(best, -1) {
		for _, u := range e.refused {
			bound(u)
			far = append(far, u)
		}
	}
	var kept []int
	e.beyond = 0
	for i, u := range e.levels.u {
		if e.levels.off[i] {
			continue
		}
		c := e.levels.cov
		sd := math.Sqrt(c.At(i, i) + c.At(top, top) - 2*c.At(i, top))
		if best-e.levels.rpm[i]-bornSigmas*sd > drop {
			bound(u)
			far = append(far, u)
			e.beyond++
			continue
		}
		kept = append(kept, i)
	}
	n := len(kept)
	if n == 0 {
		return w, far
	}
	cov := mat.NewSymDense(n, nil)
	for kind := range w {
		w := &w[kind]
		for i, k := range kept {
			w.u, w.y = append(w.u, e.levels.u[k]), append(w.y, e.levels.rpm[k])
			for j := range i + 1 {
				cov.SetSym(i, j, e.levels.cov.At(k, kept[j]))
			}
			off := lawShares[kind] * (best - w.y[i])
			cov.SetSym(i, i, cov.At(i, i)+off*off)
		}
		w.solve(cov)
	}
	return w, far
}

// solve fills in what the covariance makes of the levels:
//
//	W = P - P 1 1' P/(1' P 1),  P = cov⁻¹
func (w *weighed) solve(cov *mat.SymDense) {
	n := len(w.u)
	var chol mat.Cholesky
	var p mat.SymDense
	if !chol.Factorize(cov) || chol.InverseTo(&p) != nil {
		w.u, w.y = nil, nil
		return
	}
	w.ones = make([]float64, n)
	sum := 0.0
	for i := range n {
		for j := range n {
			w.ones[i] += p.At(i, j)
		}
		sum += w.ones[i]
	}
	w.inner = mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			w.inner.SetSym(i, j, p.At(i, j)-w.ones[i]*w.ones[j]/sum)
		}
	}
	for i := range n {
		w.ones[i] /= sum
		w.top += w.ones[i] * w.y[i]
	}
	w.topSD = math.Sqrt(1 / sum)
	w.like = -(chol.LogDet() + math.Log(sum) + mat.Inner(mat.NewVecDense(n, w.y), w.inner, mat.NewVecDense(n, w.y))) / 2
}

// products returns h'Wy, h'Wh, and what h adds to the top.
func (w *weighed) products(h []float64) (hy, hh, top float64) {
	for i := range h {
		row := w.inner.RawSymmetric().Data[i*len(h):]
		top += w.ones[i] * h[i]
		hh += row[i] * h[i] * h[i]
		hy += row[i] * h[i] * w.y[i]
		for j := i + 1; j < len(h); j++ {
			hh += 2 * row[j] * h[i] * h[j]
			hy += row[j] * (h[i]*w.y[j] + h[j]*w.y[i])
		}
	}
	return hy, hh, top
}

// settled returns the settled speed at u, now, and its standard deviation.
func (e *estimate) settled(u float64) belief {
	var sum, square, fell float64
	for i := range e.cells {
		c := &e.cells[i]
		by := sizes[c.size] * e.unit * fall(c.shape, u, c.peak)
		sum += c.weight * (c.top - by)
		square += c.weight * (c.top - by) * (c.top - by)
		fell += c.weight * by * lawShares[kind(c.shape)]
	}
	v := max(square-sum*sum, 0) + e.topVariance() + fell*fell
	return belief{e.base + sum, math.Sqrt(v)}
}

// change returns by how much the settled speed changes from one setting to another.
func (e *estimate) change(from, to float64) belief {
	var sum, square, off float64
	for i := range e.cells {
		c := &e.cells[i]
		by := sizes[c.size] * e.unit * (fall(c.shape, from, c.peak) - fall(c.shape, to, c.peak))
		sum += c.weight * by
		square += c.weight * by * by
		off += c.weight * by * by * lawShares[kind(c.shape)] * lawShares[kind(c.shape)]
	}
	return belief{sum, math.Sqrt(max(square-sum*sum, 0) + off)}
}

// topVariance is the variance of the speed at the best that is common to all laws, rpm².
func (e *estimate) topVariance() (v float64) {
	for i := range e.cells {
		c := &e.cells[i]
		v += c.weight * e.topSD[kind(c.shape)] * e.topSD[kind(c.shape)]
	}
	return v
}
