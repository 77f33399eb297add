package mixture

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// The model of the idle speed w of cycle k at a pilot screw u turns richer than at
// the start, at time t:
//
//	w(k) = r1 w(k-1) + r2 w(k-2) + a + b u + c u² + d t + scatter
//
// so that it settles on (a + b u + c u² + d t)/(1-r1-r2). The two terms of the past
// make the scatter white (measured on the practice engine: its correlation from
// cycle to cycle is 0.02, with one term 0.24), so that the intervals hold, and the
// way to a new speed tells as much as the speed itself.
const (
	past1 = iota
	past2
	level
	slope
	bend
	drift
	terms
)

// Beliefs about the terms before any data.
const (
	// usualPast1, usualPast2 are those of the practice engine, pastSD how far
	// another's may be from them.
	usualPast1, usualPast2, pastSD = 1.15, -0.23, 0.3
	// mostDrift is the standard deviation of the idle's drift, rpm/s. Chosen: a
	// warming engine's rises by 100 rpm in three minutes.
	mostDrift = 0.5
	// alikeShare is the relative standard deviation by which the cylinders' curves
	// are taken to differ. Chosen.
	alikeShare = 0.3
	// mostRows bounds what is kept of a cylinder: four minutes at idle.
	mostRows = 2048
	// oddSigmas is how far off the fit a cycle may be: beyond, a misfire, it does
	// not count.
	oddSigmas = 4.5
)

// row is one cycle: its speed and the two before, less the curve's base.
type row struct {
	rpm, before, beforeThat float64
	u, t                    float64
}

// curve is how the idle speed hangs on one pilot screw.
type curve struct {
	base  float64 // rpm that speeds count from
	begun float64 // s
	rows  []row
	y     []float64
}

// dynamics is what other cylinders have told of the engine.
type dynamics struct {
	past1, past2 belief
	// bend is the curve's, rpm/turn², settled; sd 0 while unknown.
	bend belief
}

// usualDynamics is what is held of an engine never seen.
func usualDynamics() dynamics {
	return dynamics{past1: belief{usualPast1, pastSD}, past2: belief{usualPast2, pastSD}}
}

func (c *curve) clear(base, now float64) {
	*c = curve{base: base, begun: now, rows: c.rows[:0], y: c.y[:0]}
}

// push adds a cycle.
func (c *curve) push(rpm, before, beforeThat, u, now float64) {
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
	fit                          regression
	base, gain, end              float64 // gain: 1/(1-r1-r2)
	scatter                      float64
}

// estimate fits the curve.
func (c *curve) estimate(d *dynamics) (e estimate) {
	rows := c.rows
	fit, ok := c.fit(rows, d)
	if !ok {
		return e
	}
	kept := make([]row, 0, len(rows))
	for i := range rows {
		if math.Abs(fit.off(&rows[i])) < oddSigmas*fit.sigma {
			kept = append(kept, rows[i])
		}
	}
	if len(kept) < len(rows) {
		if fit, ok = c.fit(kept, d); !ok {
			return e
		}
	}
	gain := 1 / max(1-fit.coef[past1]-fit.coef[past2], leastReturn)
	e = estimate{ok: true, fit: fit, base: c.base, gain: gain, end: c.rows[len(c.rows)-1].t, scatter: fit.sigma}
	e.bend, e.bendSD = gain*fit.coef[bend], gain*fit.sd(bend)
	e.slope, e.slopeSD = gain*fit.coef[slope], gain*fit.sd(slope)
	e.peak, e.sd, e.known = fit.peak(slope, bend)
	return e
}

// leastReturn keeps an engine that seems to follow nothing from a speed without
// bounds.
const leastReturn = 0.01

// off is how far a row is from the fit.
func (r *regression) off(w *row) float64 {
	return w.rpm - (r.coef[past1]*w.before + r.coef[past2]*w.beforeThat + r.coef[level] + r.coef[slope]*w.u + r.coef[bend]*w.u*w.u + r.coef[drift]*w.t)
}

func (c *curve) fit(rows []row, d *dynamics) (regression, bool) {
	if len(rows) <= terms {
		return regression{}, false
	}
	x := mat.NewDense(len(rows), terms, nil)
	c.y = c.y[:0]
	for i := range rows {
		w := &rows[i]
		x.SetRow(i, []float64{w.before, w.beforeThat, 1, w.u, w.u * w.u, w.t})
		c.y = append(c.y, w.rpm)
	}
	settle := max(1-d.past1.mean-d.past2.mean, leastReturn)
	beliefs := []belief{d.past1, d.past2, {}, {}, {settle * d.bend.mean, settle * d.bend.sd}, {0, settle * mostDrift}}
	return regress(x, c.y, beliefs)
}

// speed returns the settled speed at u, now.
func (e *estimate) speed(u float64) float64 {
	k := e.fit.coef
	return e.base + e.gain*(k[level]+k[slope]*u+k[bend]*u*u+k[drift]*e.end)
}

// learn takes what a cylinder's curve told into what is held of the next.
func (d *dynamics) learn(e *estimate) {
	if !e.known {
		return
	}
	d.past1 = belief{e.fit.coef[past1], max(2*e.fit.sd(past1), 0.02)}
	d.past2 = belief{e.fit.coef[past2], max(2*e.fit.sd(past2), 0.02)}
	mean, share := e.bend, math.Hypot(alikeShare, e.bendSD/e.bend)
	if d.bend.sd > 0 {
		mean = (d.bend.mean + mean) / 2
		share = alikeShare
	}
	d.bend = belief{mean, share * math.Abs(mean)}
}
