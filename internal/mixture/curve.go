package mixture

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// The model of the idle speed w of cycle k at a pilot screw u turns out from the
// start, at time t:
//
//	w(k) = (1-q) w(k-1) + f (w(k-1) - w(k-2)) + a + b u + c u² + d t + scatter
//
// so that it settles on (a + b u + c u² + d t)/q. The two terms of the past make the
// scatter white (measured on the practice engine: its correlation from cycle to cycle
// is 0.02, with one term 0.24), so that the intervals hold, and the way to a new speed
// tells as much as the speed itself.
const (
	past = iota
	swing
	level
	slope
	bend
	drift
	terms
)

// Beliefs about the terms before any data.
const (
	// returnS is the time constant with which the speed returns: q = period/returnS,
	// and returnShare the relative standard deviation of that from engine to engine.
	// Measured on the practice engine: 1.3 to 1.5 s; chosen.
	returnS, returnShare = 1.4, 0.3
	// usualSwing is the practice engine's f, swingSD how far another's may be from it.
	usualSwing, swingSD = 0.23, 0.2
	// returnBias is by how much a fit to n cycles finds q too large, times n. Derived:
	// 2 of least squares (Marriott and Pope, 1954, from memory), and 2 for each of
	// the four terms that hold the level.
	returnBias = 10.0
	// leastReturn keeps q from nought.
	leastReturn = 0.01
	// driftSD is the standard deviation of the idle's drift, rpm/s. Chosen: a
	// warming engine's rises by 100 rpm in three minutes.
	driftSD = 0.5
	// bendSpread is the relative standard deviation by which the cylinders' curves
	// are taken to differ. Chosen.
	bendSpread = 0.3
	// mostRows bounds what is kept of a cylinder: four minutes at idle.
	mostRows = 2048
	// oddSigmas is how far off the fit a cycle may be: beyond, a misfire, it does
	// not count.
	oddSigmas = 4.5
	// certainSD is the standard deviation of a belief that is not to be moved.
	certainSD = 1e-6
)

// row is one cycle: its speed and the two before, less the curve's base.
type row struct {
	rpm, before, beforeThat float64
	u, t                    float64
}

// curve is how the idle speed hangs on one pilot screw.
type curve struct {
	base   float64 // rpm that speeds count from
	begun  float64 // s
	period float64 // of the last cycle, s
	rows   []row
	y      []float64
}

// dynamics is what is held of the engine.
type dynamics struct {
	// back is q times returnS over the period: 1 for the usual engine.
	back belief
	// bend is the curve's, rpm/turn², settled; sd 0 while unknown.
	bend belief
}

// usualDynamics is what is held of an engine never seen.
func usualDynamics() dynamics { return dynamics{back: belief{1, returnShare}} }

func (c *curve) clear(base, now float64) {
	*c = curve{base: base, begun: now, rows: c.rows[:0], y: c.y[:0]}
}

// push adds a cycle, with the speeds of the two before.
func (c *curve) push(rpm, before, beforeThat, u, now float64) {
	c.period = 120 / rpm
	if len(c.rows) < mostRows {
		c.rows = append(c.rows, row{rpm - c.base, before - c.base, beforeThat - c.base, u, now - c.begun})
	}
}

// estimate is what a curve says. Speeds are in rpm, screws in turns richer than at
// the start.
type estimate struct {
	ok       bool // there is a fit
	known    bool // there is a peak
	peak, sd float64
	// bend is the curvature, rpm/turn², slope the rise at the start, rpm/turn, each
	// with its standard deviation.
	bend, bendSD, slope, slopeSD float64
	// ownBend is the curvature by this cylinder's data alone.
	ownBend, ownBendSD float64
	fit                regression
	back               belief
	base, gain, end    float64 // gain: 1/(1-r1-r2)
	scatter            float64
}

// estimate fits the curve: freely first, for how fast the speed returns; then with
// that, less its bias and weighed with what was held of it.
func (c *curve) estimate(d *dynamics) (e estimate) {
	if len(c.rows) <= terms {
		return e
	}
	usual := c.period / returnS
	free, ok := c.fit(c.rows, belief{}, d, usual)
	if !ok {
		return e
	}
	n := float64(len(c.rows))
	seen := max(1-free.coef[past]-returnBias/n, leastReturn) / usual
	e.back = d.back.joinedWith(belief{seen, math.Sqrt(2*seen*usual/n) / usual})
	q := max(e.back.mean*usual, leastReturn)
	fit, ok := c.fit(c.inliers(&free), belief{1 - q, certainSD}, d, q)
	if !ok {
		return e
	}
	e.ok, e.fit, e.base, e.gain, e.end, e.scatter = true, fit, c.base, 1/q, c.rows[len(c.rows)-1].t, fit.sigma
	e.bend, e.bendSD = fit.coef[bend]/q, fit.sd(bend)/q
	e.slope, e.slopeSD = fit.coef[slope]/q, fit.sd(slope)/q
	e.peak, e.sd, e.known = fit.peak(slope, bend)
	e.ownBend, e.ownBendSD = e.bend, e.bendSD
	if d.bend.sd > 0 { // without what others told
		if own, ok := c.fit(c.rows, belief{1 - q, certainSD}, &dynamics{}, q); ok {
			e.ownBend, e.ownBendSD = own.coef[bend]/q, own.sd(bend)/q
		}
	}
	return e
}

// joinedWith returns what is held when two beliefs are joined, each by its weight.
func (b belief) joinedWith(o belief) belief {
	w, v := 1/(b.sd*b.sd), 1/(o.sd*o.sd)
	return belief{(w*b.mean + v*o.mean) / (w + v), 1 / math.Sqrt(w+v)}
}

// inliers returns the rows that are no odd ones.
func (c *curve) inliers(fit *regression) []row {
	kept := make([]row, 0, len(c.rows))
	for i := range c.rows {
		if math.Abs(fit.residual(&c.rows[i])) < oddSigmas*fit.sigma {
			kept = append(kept, c.rows[i])
		}
	}
	return kept
}

// residual is how far a row is from the fit.
func (r *regression) residual(w *row) float64 {
	k := r.coef
	return w.rpm - (k[past]*w.before + k[swing]*(w.before-w.beforeThat) + k[level] + k[slope]*w.u + k[bend]*w.u*w.u +
		k[drift]*w.t)
}

// fit fits the rows, with a belief about the past's weight, 1 - q; q is roughly
// what it will be.
func (c *curve) fit(rows []row, pastHeld belief, d *dynamics, q float64) (regression, bool) {
	x := mat.NewDense(max(len(rows), 1), terms, nil)
	c.y = c.y[:0]
	for i := range rows {
		w := &rows[i]
		x.SetRow(i, []float64{w.before, w.before - w.beforeThat, 1, w.u, w.u * w.u, w.t})
		c.y = append(c.y, w.rpm)
	}
	return regress(x, c.y, []belief{pastHeld, {usualSwing, swingSD}, {}, {}, {q * d.bend.mean, q * d.bend.sd},
		{0, q * driftSD}})
}

// settledRPM returns the settled speed at u, now.
func (e *estimate) settledRPM(u float64) float64 {
	k := e.fit.coef
	return e.base + e.gain*(k[level]+k[slope]*u+k[bend]*u*u+k[drift]*e.end)
}

// learn takes what a cylinder's curve told into what is held of the next.
func (d *dynamics) learn(e *estimate) {
	if !e.known {
		return
	}
	d.back = belief{e.back.mean, max(e.back.sd, leastReturnShare)}
	mean, share := e.bend, math.Hypot(bendSpread, e.bendSD/e.bend)
	if d.bend.sd > 0 {
		mean, share = (d.bend.mean+mean)/2, bendSpread
	}
	d.bend = belief{mean, share * math.Abs(mean)}
}

// leastReturnShare is the doubt about the return that is left in any case. Chosen.
const leastReturnShare = 0.1
