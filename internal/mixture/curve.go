package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// The model of the idle speed w of cycle k at a pilot screw u turns out from the start, at time t:
//
//	w(k) = (1-q) w(k-1) + f (w(k-1) - w(k-2)) + a + b u + c u² + d t + scatter
//
// so that it settles on (a + b u + c u² + d t)/q. The two terms of the past make the scatter white (measured on the
// practice engine: its correlation from cycle to cycle is 0.02, with one term 0.24), so that the intervals hold, and
// the way to a new speed tells as much as the speed itself.
const (
	past = iota
	swing
	level
	slope
	bend
	drift
	earlier // 1 in the run before a rest
	terms
)

// Beliefs about the terms before any data.
const (
	// returnS is the time constant with which the speed returns: q = period/returnS, and returnShare the relative
	// standard deviation of that from engine to engine. Measured on the practice engine: 1.3 to 1.5 s; chosen.
	returnS, returnShare = 1.4, 0.3
	// usualSwing is the practice engine's f, swingSD how far another's may be from it.
	usualSwing, swingSD = 0.23, 0.2
	// returnBias is by how much a fit to n cycles finds q too large, times n. Derived: 2 of least squares (Marriott and
	// Pope, 1954, from memory), and 2 for each of the four terms that hold the level.
	returnBias = 10.0
	// leastReturn keeps q from nought.
	leastReturn = 0.01
	// driftSD is the standard deviation of the idle's drift, rpm/s. Chosen: a warm
	// engine's; one that warms up gains 100 rpm in three minutes.
	driftSD = 0.2
	// restSD is the standard deviation by which a rest changes the idle, rpm. Chosen.
	restSD = 30.0
	// bendSpread is the relative standard deviation by which the cylinders' curves are taken to differ. Chosen.
	bendSpread = 0.15
	// usualBendShare is the relative standard deviation of an engine's curve about usualBend. Chosen.
	usualBendShare = 0.5
	// mostRows bounds what is kept of a cylinder: four minutes at idle.
	mostRows = 2048
	// oddSigmas is how far off the fit a cycle may be: beyond, a misfire, it does not count.
	oddSigmas = 4.5
	// certainSD is the standard deviation of a belief that is not to be moved.
	certainSD = 1e-6
)

// row is one cycle: its speed and the two before, less the curve's base.
type row struct {
	rpm, before, beforeThat float64
	u, t                    float64
	run                     int // of the engine since the screw was begun: it idles otherwise after a rest
}

// curve is how the idle speed hangs on one pilot screw.
type curve struct {
	base   float64 // rpm that speeds count from
	begun  float64 // s
	period float64 // of the last cycle, s
	rows   []row
	y      []float64
	run    int
	// held is what is held of the settled speed before the first turn, rpm from base, by the
	// curve before; sd 0 is nothing. at is where the screw stood then: off 0 where a trim is gone on with.
	held belief
	at   float64
}

// dynamics is what is held of the engine.
type dynamics struct {
	// back is q times returnS over the period: 1 for the usual engine.
	back belief
	// bend is the curve's, rpm/turn², settled; sd 0 while unknown.
	bend belief
	// usual is the engine's, about which the cylinders' curves differ.
	usual belief
}

// assumeBend takes a sound engine's curve for the engine's, with much doubt, while nothing is known of it.
func (d *dynamics) assumeBend(rpm float64, cylinders int) {
	if d.bend.sd == 0 {
		mean := -usualBend * rpm / float64(cylinders)
		d.usual = belief{mean, usualBendShare * math.Abs(mean)}
		d.bend = d.usual
	}
}

// clear begins anew with the screw at a setting; held is what is held of the settled speed there, rpm.
func (c *curve) clear(base, now, at float64, held belief) {
	held.mean -= base
	*c = curve{base: base, begun: now, rows: c.rows[:0], y: c.y[:0], held: held, at: at}
}

// rowOf returns a cycle as a row, with the speeds of the two before.
func (c *curve) rowOf(rpm, before, beforeThat, u, now float64) row {
	return row{rpm - c.base, before - c.base, beforeThat - c.base, u, now - c.begun, c.run}
}

// add adds a cycle.
func (c *curve) add(r row, period float64) {
	c.period = period
	if len(c.rows) < mostRows {
		c.rows = append(c.rows, r)
	}
}

// newRun tells that the engine has stood: the level of what comes is another. Of more than two runs the
// last two are kept.
func (c *curve) newRun() {
	if c.held.sd > 0 {
		c.held.sd = math.Hypot(c.held.sd, restSD)
	}
	if len(c.rows) == 0 || c.rows[len(c.rows)-1].run < c.run {
		return
	}
	c.run++
	c.rows = slices.DeleteFunc(c.rows, func(r row) bool { return r.run < c.run-1 })
}

// moveRows takes the cycles at a setting to another: the hand had made another turn than told.
func (c *curve) moveRows(from, to float64) {
	for i := len(c.rows) - 1; i >= 0 && c.rows[i].u == from; i-- {
		c.rows[i].u = to
	}
}

// estimate is what a curve says. Speeds are in rpm, screws in turns richer than at the start.
type estimate struct {
	ok       bool // there is a fit
	known    bool // there is a peak
	peak, sd float64
	// bend is the curvature, rpm/turn², slope the rise at the start, rpm/turn, each with its standard deviation.
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
		if math.Abs(fit.residual(&c.rows[i], c.run)) < oddSigmas*fit.sigma {
			kept = append(kept, c.rows[i])
		}
	}
	return kept
}

// residual is how far a row is from the fit.
func (r *regression) residual(w *row, last int) float64 {
	k := r.coef
	return w.rpm - (k[past]*w.before + k[swing]*(w.before-w.beforeThat) + k[level] + k[slope]*w.u + k[bend]*w.u*w.u +
		k[drift]*w.t + k[earlier]*w.earlier(last))
}

// fit fits the rows, with a belief about the past's weight, 1 - q; q is roughly what it will be.
func (c *curve) fit(rows []row, pastHeld belief, d *dynamics, q float64) (regression, bool) {
	x := mat.NewDense(max(len(rows), 1), terms, nil)
	c.y = c.y[:0]
	for i := range rows {
		w := &rows[i]
		x.SetRow(i, []float64{w.before, w.before - w.beforeThat, 1, w.u, w.u * w.u, w.t, w.earlier(c.run)})
		c.y = append(c.y, w.rpm)
	}
	var held []combination
	if c.held.sd > 0 {
		there := []float64{level: 1, slope: c.at, bend: c.at * c.at}
		held = []combination{{belief{q * c.held.mean, q * c.held.sd}, there}}
	}
	return regress(x, c.y, []belief{pastHeld, {usualSwing, swingSD}, {}, {}, {q * d.bend.mean, q * d.bend.sd},
		{0, q * driftSD}, {0, q * restSD}}, held...)
}

// settledSD returns the standard deviation of settledRPM.
//
//	var = gain² g'·cov·g,  g = (1, u, u², t) of level, slope, bend and drift
func (e *estimate) settledSD(u float64) float64 {
	g := [terms]float64{level: 1, slope: u, bend: u * u, drift: e.end}
	v := 0.0
	for i := range terms {
		for j := range terms {
			v += g[i] * g[j] * e.fit.cov.At(i, j)
		}
	}
	return e.gain * math.Sqrt(v)
}

// earlier is 1 for a row of a run before the last.
func (w *row) earlier(last int) float64 {
	if w.run < last {
		return 1
	}
	return 0
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
	d.usual = d.usual.joinedWith(belief{e.ownBend, math.Hypot(e.ownBendSD, bendSpread*d.usual.mean)})
	d.bend = belief{d.usual.mean, math.Hypot(d.usual.sd, bendSpread*d.usual.mean)}
}

// leastReturnShare is the doubt about the return that is left in any case. Chosen.
const leastReturnShare = 0.1
