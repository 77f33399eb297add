package cycle

import "math"

// Constants of the lag of a hose and its sensor, taken together as one of first
// order. Between intake strokes a runner refills through its butterfly alone, by a
// course that is known but for its pace: see course.
const (
	// lagFirst is what lags are expected to be, lagSD how far they lie from it, lagLeast
	// the shortest and lagMost the longest, s. Chosen: short hoses have 2 to 6 ms, a
	// sensor alone 0.455.
	lagFirst = 3e-3
	lagSD    = 4e-3
	lagLeast = 0.4e-3
	// lagKept is how far a lag lies from what a settled mean refill has shown, s. Chosen:
	// what such a lag is right by.
	lagKept = 0.4e-3
	lagMost = 12e-3
	// offsetSD is how far a sensor's zero has drifted, as a ratio to ambient. Chosen: the
	// drift at which a new zero pass is asked for. It is looked for where the runner is
	// full, from fullFrom on; below, a lag looks the same, and steadySD is left to it.
	offsetSD = 0.0035
	fullFrom = 0.985
	steadySD = 0.00005
	// squareNoise is how far the square of a lag is off that one refill shows, s². Measured:
	// 1.5e-6 after a hundred.
	squareNoise = 15e-6
	// placeNoise is by what one refill is taken to be off at a place, as a ratio to
	// ambient: how much what is expected weighs. Measured: sensors with noise of 0.08 kPa,
	// and 10 bits; a third of it gives the same.
	placeNoise = 6e-4
	// leastLooks is how many refills it takes to know a lag. Chosen.
	leastLooks = 4
	// roundsFirst of the fit make a course out of nothing. Chosen.
	roundsFirst = 10
	// settledPause is how many looks lie between searches once the mean refill is
	// settled, and longestPause the most while it is no nozzle's. Chosen: a look then
	// changes it by a hundredth; of a four, one in twelve cycles is looked at then.
	settledPause = 4
	longestPause = 32
	// crooked is the root mean square off the course of a nozzle, in ratios to
	// ambient, from which on a refill is none. Measured: 0.0001 on refills through a
	// nozzle.
	crooked = 0.0007
	// shallowest is the ratio of the dip's pressure to ambient above which there
	// is no refill worth the name. Chosen.
	shallowest = 0.72
	// leastSamples is the fewest samples of a refill that are looked at.
	leastSamples = 4
)

// hose is what is known of one channel's lag.
type hose struct {
	own  float64 // the lag that its refill shows, s
	good bool
	lag  float64 // the lag in use, once the others have been looked at: see agree
	// settled is the lag that a whole mean refill has shown, 0 before: a hose keeps it
	// when its butterfly is moved.
	settled float64
	refill  refill
	course  course
	rests   int     // looks until the next search
	pause   int     // the same after a search that found no lag
	damping float64 // share of the swing that is taken, 0 before it is known
	from    float64 // where the refill begins, ratio to ambient
	factor  float64 // of the opening with the lag undone over that without
}

// stretch is one refill in the history, from the dip to near the next fall.
type stretch struct {
	h         *history
	c         int
	period    float64
	bottom    float64 // when the dip usually is
	dip, end  int     // samples of the lowest and the highest
	low, high float64
	ambient   float64
}

// find lays out the last whole refill of cylinder c before a time. ok is false
// when there is none.
func (r *stretch) find(h *history, c int, end, period, dipAt, ambient float64) bool {
	r.h, r.c, r.period, r.ambient = h, c, period, ambient
	t := end - period*(1-dipAt)
	if t+period*refillLongest > end {
		t -= period
	}
	const early = 0.12 // the dip's own scatter and lag, in cycles
	t0, t1 := t-early*period, t+period*refillLongest
	if t0 <= h.oldest()+period*early || t1 >= h.newest() {
		return false
	}
	i0, _ := h.find(t0)
	i1, _ := h.find(t1)
	k := h.kpa[c]
	r.low, r.high = math.Inf(1), math.Inf(-1)
	middle := (i0 + i1) / 2
	r.bottom = t
	for i := i0; i < middle; i++ {
		if v := k[i&h.mask]; v < r.low {
			r.low, r.dip = v, i
		}
	}
	for i := r.dip; i <= i1; i++ {
		if v := k[i&h.mask]; v > r.high {
			r.high, r.end = v, i
		}
	}
	return r.low < shallowest*ambient && r.high > r.low+(ambient-r.low)/2
}

// ratio returns the pressure over ambient at a sample.
func (r *stretch) ratio(i int) float64 { return r.h.kpa[r.c][i&r.h.mask] / r.ambient }

// line is a straight line's sums.
type line struct{ n, t, g, tt, tg float64 }

func (l *line) add(t, g float64) {
	l.n++
	l.t += t
	l.g += g
	l.tt += t * t
	l.tg += t * g
}

// slope returns the line's.
func (l *line) slope() float64 { return (l.tg - l.t*l.g/l.n) / (l.tt - l.t*l.t/l.n) }

// look renews what is known from one refill.
func (o *hose) look(r *stretch, f *courseFit) {
	l, ok := r.between(r.whole())
	if !ok {
		return
	}
	slope := l.slope()
	middle := r.h.at(r.dip) + l.t/l.n + (refillMiddle-l.g/l.n)/slope
	if !o.refill.add(r, middle, slope) {
		return
	}
	if o.refill.looks == 1 {
		o.rests, o.pause = 0, 0
	}
	if o.rests--; o.rests > 0 || o.refill.looks < leastLooks {
		return
	}
	was := o.good
	if o.good = o.search(f, slope); was && !o.good {
		o.refill.looks, o.settled = 0, 0 // another hose
	}
	switch {
	case !o.good:
		o.pause = min(max(2*o.pause, 1), longestPause)
		o.rests = o.pause
	case o.refill.looks >= quickLooks:
		o.rests = settledPause
	default:
		o.pause = 0
	}
}

// search finds the lag from the mean refill, and what it does to the slope between two
// ratios; slope is that of a refill with the lag in it. ok is false when there is none.
func (o *hose) search(f *courseFit, slope float64) (ok bool) {
	m, q := &o.refill, &o.course
	from, end := m.seen()
	if end-from < placesLeast {
		return false
	}
	expected, sd := lagFirst, lagSD
	if o.settled > 0 {
		expected, sd = o.settled, lagKept
	}
	rounds := 1
	if !o.good || m.looks == leastLooks {
		rounds = roundsFirst
		*q = course{slope * m.step, placesBefore, expected / m.step, m.ratio[from], 0}
	}
	drift := steadySD
	if m.ratio[end-1] > fullFrom {
		drift = offsetSD
	}
	noise := placeNoise * placeNoise / m.looks
	known := prior{expected / m.step, noise * m.step * m.step / (sd * sd), noise / (drift * drift), lagLeast / m.step}
	rest := 0.0
	for range rounds {
		rest = f.improve(q, &m.ratio, from, end, known)
	}
	o.own = q.lag * m.step
	o.from = m.ratio[from]
	low, high := o.ends()
	raw := m.slope(low, high, from, end)
	o.factor = q.pace / m.step / raw
	ok = rest < crooked*crooked && o.own < lagMost && raw > 0
	if ok && m.looks >= quickLooks {
		o.settled = o.own
	}
	return ok
}

// pace returns that of the refill, 1/s, 0 when it is not known.
func (o *hose) pace() float64 {
	if !o.good || o.refill.looks < leastLooks {
		return 0
	}
	return o.course.pace / o.refill.step
}

// looked returns how many refills have shown the lag: of a hose that is settled, as many as
// a mean refill remembers, whatever its butterfly and the speed do.
func (o *hose) looked() float64 {
	if o.settled > 0 {
		return quickLooks
	}
	return max(o.refill.looks, 1)
}

// agree sets the hoses' lags, 0 for those that are unknown. A refill shows the square of a
// lag: where the squares differ by little more than chance, all are nearer to their mean.
func agree(hoses []hose) {
	var n, mean, square, chance float64
	for i := range hoses {
		if o := &hoses[i]; o.good {
			q := o.own * o.own
			n++
			mean += q
			square += q * q
			chance += squareNoise * squareNoise / o.looked()
		}
	}
	mean /= max(n, 1)
	keep := 0.0
	if differ := square - n*mean*mean; differ > 0 {
		keep = max(0, 1-chance*(n-1)/n/differ)
	}
	for i := range hoses {
		o := &hoses[i]
		if o.lag = 0; o.good {
			o.lag = math.Sqrt(mean + keep*(o.own*o.own-mean))
		}
	}
}

// damping returns the share of the swing of a cylinder's pressure that a lag takes
// away; step is the time between bins of its course over a cycle, k.
func damping(k *curve, lag, step float64) float64 {
	low, high := k[0], k[0]
	least, most := math.Inf(1), math.Inf(-1)
	for b := range bins {
		before := k[(b+bins-1)&(bins-1)]
		undone := k[b] + lag/(2*step)*(k[b+1]-before)
		low, high = min(low, k[b]), max(high, k[b])
		least, most = min(least, undone), max(most, undone)
	}
	if !(most > least) {
		return 0
	}
	return max(0, 1-(high-low)/(most-least))
}
