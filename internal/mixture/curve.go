package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// The model of the idle speed w of cycle k at a setting of one pilot screw, at time t:
//
//	w(k) = (1-q) w(k-1) + f (w(k-1) - w(k-2)) + a + d t + scatter
//
// each setting with a level a of its own, so that it settles on (a + d t)/q. The two terms of the past make the scatter
// white (measured on the practice engine: its correlation from cycle to cycle is 0.02, with one term 0.24), so that the
// intervals hold, and the way to a new speed tells as much as the speed itself. Which law the levels follow is asked
// after that (law.go).
const (
	past = iota
	swing
	drift
	earlier // 1 in the run before the last
	firstLevel
)

// Beliefs about the terms before any data.
const (
	// returnS is the time constant with which the speed returns: q = period/returnS, and returnShare the relative
	// standard deviation of that from engine to engine. Measured on the practice engine: 1.3 to 1.5 s; chosen.
	returnS, returnShare = 1.4, 0.3
	// usualSwing is the practice engine's f, swingSD how far another's may be from it.
	usualSwing, swingSD = 0.23, 0.2
	// returnBias is by how much a fit to n cycles finds q too large, times n: once, and once more for the drift and for
	// each level. Derived: 2 of least squares (Marriott and Pope, 1954, from memory), and 2 for each such term.
	returnBias = 2.0
	// leastReturn keeps q from nought.
	leastReturn = 0.01
	// driftSD is the standard deviation of the idle's drift, rpm/s. Chosen: a warm
	// engine's; one that warms up gains 100 rpm in three minutes.
	driftSD = 0.2
	// restSD is the standard deviation by which a rest changes the idle, rpm. Chosen.
	restSD = 30.0
	// leastRun is of how many cycles a run tells something. Chosen: some two seconds.
	leastRun = 20
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
	visit                   int // of the looks at settings
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
	shift  belief // by how much the settled speeds of the last run differ from those of the one before, rpm
	// held is what is held of the settled speed before the first turn, rpm from base, by the
	// curve before; sd 0 is nothing. at is where the screw stood then: off 0 where a trim is gone on with.
	held belief
	at   float64
	// mostDrift is the standard deviation of the idle's drift, rpm/s, where another than driftSD is to be believed.
	mostDrift float64
	// refused are the settings at which the engine does not run.
	refused []float64
}

// dynamics is what is held of the engine.
type dynamics struct {
	// back is q times returnS over the period: 1 for the usual engine.
	back belief
	// shapes is how likely each law is, by what the cylinders before told.
	shapes shapes
}

// clear begins anew with the screw at a setting; held is what is held of the settled speed there, rpm.
func (c *curve) clear(base, now, at float64, held belief) {
	held.mean -= base
	*c = curve{base: base, begun: now, rows: c.rows[:0], y: c.y[:0], held: held, at: at, refused: c.refused[:0],
		shift: belief{0, restSD}}
}

// rowOf returns a cycle as a row, with the speeds of the two before.
func (c *curve) rowOf(rpm, before, beforeThat, u, now float64) row {
	return row{rpm - c.base, before - c.base, beforeThat - c.base, u, now - c.begun, 0, c.run}
}

// add adds a cycle.
func (c *curve) add(r row, period float64) {
	c.period = period
	if n := len(c.rows); n > 0 {
		if last := &c.rows[n-1]; last.u != r.u {
			r.visit = last.visit + 1
		} else {
			r.visit = last.visit
		}
	}
	if len(c.rows) < mostRows {
		c.rows = append(c.rows, r)
	}
}

// newRun tells that the idle is another by itself from now on, by so many rpm: the engine has stood, or its throttle
// stop was touched. Of more than two runs the last two are kept, and none of so few cycles that it tells nothing.
func (c *curve) newRun(by belief) {
	if c.held.sd > 0 {
		c.held = belief{c.held.mean + by.mean, math.Hypot(c.held.sd, by.sd)}
	}
	n := 0
	for i := range c.rows {
		if c.rows[i].run == c.run {
			n++
		}
	}
	if n < leastRun {
		c.rows = slices.DeleteFunc(c.rows, func(r row) bool { return r.run == c.run })
		c.shift = belief{c.shift.mean + by.mean, math.Hypot(c.shift.sd, by.sd)}
		return
	}
	c.run, c.shift = c.run+1, by
	c.rows = slices.DeleteFunc(c.rows, func(r row) bool { return r.run < c.run-1 })
}

// forgetBetween leaves out the cycles that ended between two times.
func (c *curve) forgetBetween(from, to float64) {
	c.rows = slices.DeleteFunc(c.rows, func(r row) bool { return r.t+c.begun > from && r.t+c.begun <= to })
}

// moveRows takes the cycles at a setting to another: the hand had made another turn than told.
func (c *curve) moveRows(from, to float64) {
	for i := len(c.rows) - 1; i >= 0 && c.rows[i].u == from; i-- {
		c.rows[i].u = to
	}
}

// levels are the settled speeds of the settings, now, rpm from the base.
type levels struct {
	u, rpm []float64
	off    []bool // the engine does not bear it
	cov    *mat.SymDense
	drift  belief // rpm/s
}

// levels fits the curve: freely first, for how fast the speed returns; then with that, less its bias and weighed with
// what was held of it.
func (c *curve) levels(d *dynamics) (l levels, back belief, gain, scatter float64, ok bool) {
	u, _ := settings(c.rows)
	if len(c.rows) <= firstLevel+len(u) {
		return l, back, 0, 0, false
	}
	usual := c.period / returnS
	free, ok := c.fit(c.rows, belief{}, usual)
	if !ok {
		return l, back, 0, 0, false
	}
	n := float64(len(c.rows))
	seen := max(1-free.coef[past]-returnBias*float64(2+len(u))/n, leastReturn) / usual
	back = d.back.joinedWith(belief{seen, math.Sqrt(2*seen*usual/n) / usual})
	q := max(back.mean*usual, leastReturn)
	rows := c.inliers(&free)
	u, _ = settings(rows)
	fit, ok := c.fit(rows, belief{1 - q, certainSD}, q)
	if !ok {
		return l, back, 0, 0, false
	}
	end := c.rows[len(c.rows)-1].t
	l = levels{u: u, drift: belief{fit.coef[drift] / q, fit.sd(drift) / q}, rpm: make([]float64, len(u)),
		off: make([]bool, len(u)),
		cov: mat.NewSymDense(len(u), nil)}
	for i := range u {
		l.off[i] = slices.Contains(c.refused, u[i])
		l.rpm[i] = (fit.coef[firstLevel+i] + fit.coef[drift]*end) / q
		for j := range i + 1 {
			l.cov.SetSym(i, j, (fit.cov.At(firstLevel+i, firstLevel+j)+end*(fit.cov.At(firstLevel+i, drift)+
				fit.cov.At(firstLevel+j, drift))+end*end*fit.cov.At(drift, drift))/(q*q))
		}
	}
	return l, back, 1 / q, fit.sigma, true
}

// settings returns the settings that were looked at, as they came, and by row which of them it is of.
func settings(rows []row) (u []float64, of []int) {
	of = make([]int, len(rows))
	for i := range rows {
		if i == 0 || rows[i].visit != rows[i-1].visit {
			u = append(u, rows[i].u)
		}
		of[i] = len(u) - 1
	}
	return u, of
}

// joinedWith returns what is held when two beliefs are joined, each by its weight.
func (b belief) joinedWith(o belief) belief {
	w, v := 1/(b.sd*b.sd), 1/(o.sd*o.sd)
	return belief{(w*b.mean + v*o.mean) / (w + v), 1 / math.Sqrt(w+v)}
}

// inliers returns the rows that are no odd ones.
func (c *curve) inliers(fit *regression) []row {
	_, of := settings(c.rows)
	kept := make([]row, 0, len(c.rows))
	for i := range c.rows {
		if math.Abs(fit.residual(&c.rows[i], of[i], c.run)) < oddSigmas*fit.sigma {
			kept = append(kept, c.rows[i])
		}
	}
	return kept
}

// residual is how far a row is from the fit.
func (r *regression) residual(w *row, setting, last int) float64 {
	k := r.coef
	return w.rpm - (k[past]*w.before + k[swing]*(w.before-w.beforeThat) + k[drift]*w.t + k[earlier]*w.earlier(last) +
		k[firstLevel+setting])
}

// fit fits the rows, with a belief about the past's weight, 1 - q; q is roughly what it will be.
func (c *curve) fit(rows []row, pastHeld belief, q float64) (regression, bool) {
	u, of := settings(rows)
	terms := firstLevel + len(u)
	x := mat.NewDense(max(len(rows), 1), terms, nil)
	c.y = c.y[:0]
	for i := range rows {
		w, r := &rows[i], x.RawRowView(i)
		r[past], r[swing], r[drift], r[earlier] = w.before, w.before-w.beforeThat, w.t, w.earlier(c.run)
		r[firstLevel+of[i]] = 1
		c.y = append(c.y, w.rpm)
	}
	beliefs := make([]belief, terms)
	beliefs[past], beliefs[swing] = pastHeld, belief{usualSwing, swingSD}
	beliefs[drift] = belief{0, q * max(driftSD, c.mostDrift)}
	beliefs[earlier] = belief{-q * c.shift.mean, q * c.shift.sd}
	if i := slices.Index(u, c.at); i >= 0 && c.held.sd > 0 {
		beliefs[firstLevel+i] = belief{q * c.held.mean, q * c.held.sd}
	}
	return regress(x, c.y, beliefs)
}

// earlier is 1 for a row of a run before the last.
func (w *row) earlier(last int) float64 {
	if w.run < last {
		return 1
	}
	return 0
}

// learn takes what a cylinder's curve told into what is held of the others.
func (d *dynamics) learn(cylinder int, e *estimate) {
	if !e.ok {
		return
	}
	d.back = belief{e.back.mean, max(e.back.sd, leastReturnShare)}
	d.shapes.learn(cylinder, e)
}

// leastReturnShare is the doubt about the return that is left in any case. Chosen.
const leastReturnShare = 0.1
