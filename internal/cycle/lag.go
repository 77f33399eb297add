package cycle

import (
	"math"
	"slices"
)

// Constants of the lag of a hose and its sensor, taken together as one of first
// order. Between intake strokes a runner refills through its butterfly alone, so
// that the integral of dp over the nozzle function grows evenly in time. The lag
// is the one whose undoing makes the refill straightest: undone too little, the
// refill starts late; too much, it starts too fast.
const (
	// lagFirst is where the search begins, lagStep the distance of the three lags
	// that are tried, lagMost the longest, s. Chosen: short hoses have 2 to 6 ms.
	lagFirst = 4e-3
	lagStep  = 1.5e-3
	lagMost  = 12e-3
	// lagSD is how far lags lie from lagFirst, s, and lagWeight what that weighs, in
	// places of the refill. Measured: at 20 a lag of half a ms is taken for 2 to 3.
	lagSD     = 2e-3
	lagWeight = 4
	// lagShare is the share by which a refill renews the mean refill, at first 1/n.
	// Measured at 75 kPa: of 100 refills the noise is half of what it is of 20, and
	// the openings are half as far off.
	lagShare = 0.01
	// leastLooks is how many refills it takes to know a lag. Chosen.
	leastLooks = 4
	// slopeFrom begins the refill whose slope is taken, and refillTo ends it, as
	// shares of the way from the dip to ambient; asGood is how much worse than from
	// the best beginning the refill that shows the lag may fit, as a mean square.
	// Measured on the practice engine at 75 and 101 kPa.
	slopeFrom = 0.31
	refillTo  = 0.85
	asGood    = 6
	// crooked is the root mean square departure from a straight refill, in
	// ratios to ambient and over what noise is made to by undoing the lag, from
	// which on it is none. Measured: 0.0002 on refills through a nozzle.
	crooked = 0.0007
	// places of the mean refill, of which so many lie before its middle; the dip
	// lies early of these.
	places       = 64
	placesBefore = 46
	dipPlace     = 6
	// slopePlaces is how many places to each side a slope is taken over.
	slopePlaces = 2
	// shallowest is the ratio of the dip's pressure to ambient above which there
	// is no refill worth the name. Chosen.
	shallowest = 0.72
	// leastSamples is the fewest samples of a refill that are looked at.
	leastSamples = 4
)

// lagFrom are beginnings of the refill that shows the lag, as shares of the way from
// the dip to ambient: the valve shuts somewhere on the way up. The later the look
// begins, the less is left of the lag to see; too early, nothing fits.
var lagFrom = [...]float64{0.18, 0.24, 0.31}

// hose is what is known of one channel's lag.
type hose struct {
	lag   float64 // s
	looks int
	good  bool
	// curve is the mean refill, the ratios to ambient, joined where each passes
	// the middle: a refill knows nothing of when it began. step is its places'
	// distance, s.
	curve  [places]float64
	step   float64
	from   float64 // where the refill begins, ratio to ambient
	factor float64 // of the opening with the lag undone over that without
}

// stretch is one refill in the history, from the dip to near the next fall.
type stretch struct {
	h         *history
	c         int
	dip, end  int // samples
	low, high float64
	due       float64 // when the next intake stroke may begin, s
	ambient   float64
}

// find lays out the last whole refill of cylinder c before a time. ok is false
// when there is none.
func (r *stretch) find(h *history, c int, end, period, dipAt, ambient float64) bool {
	r.h, r.c, r.ambient = h, c, ambient
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
	r.due = t + period*refillSure
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

// refillLongest is how long a refill is looked at, in cycles after the dip, and
// refillSure how long no intake stroke interferes. Chosen.
const (
	refillLongest = 0.6
	refillSure    = 0.5
)

// ratio returns the pressure over ambient at a sample.
func (r *stretch) ratio(i int) float64 { return r.h.kpa[r.c][i&r.h.mask] / r.ambient }

// line is a straight line's sums.
type line struct{ n, t, g, tt, tg, gg float64 }

func (l *line) add(t, g float64) {
	l.n++
	l.t += t
	l.g += g
	l.tt += t * t
	l.tg += t * g
	l.gg += g * g
}

// fit returns the slope and the mean square off the line.
func (l *line) fit() (slope, rest float64) {
	tt, tg := l.tt-l.t*l.t/l.n, l.tg-l.t*l.g/l.n
	slope = tg / tt
	return slope, max(0, (l.gg-l.g*l.g/l.n-slope*tg)/(l.n-2))
}

// stalls reports whether the pressure is still far from ambient at a time when a
// nozzle would have filled the runner nearly, though no intake stroke is due: a
// butterfly leaves no plateau below ambient.
func (r *stretch) stalls(full float64) bool {
	if full+lagFirst > r.due {
		return false
	}
	i, _ := r.h.find(full + lagFirst)
	return r.ratio(i) < nearlyFull-stallsBy
}

// nearlyFull is the ratio to ambient, and stallsBy how far below it is a stall.
const (
	nearlyFull = 0.96
	stallsBy   = 0.04
)

// fallsBack reports whether the pressure, once at the end of the refill that is
// used, falls from there again: a wave, no refill.
func (r *stretch) fallsBack(to float64) bool {
	passed := false
	for i := r.dip; i <= r.end; i++ {
		switch p := r.ratio(i); {
		case p > to:
			passed = true
		case passed && p < to-fallsBy:
			return true
		}
	}
	return false
}

// fallsBy is how far, in ratios to ambient. Chosen: noise and a spike's rest.
const fallsBy = 0.02

// look renews what is known from one refill.
func (o *hose) look(r *stretch) {
	from, to := r.window()
	l, ok := r.between(from, to)
	if !ok || r.fallsBack(to) {
		return
	}
	slope, _ := l.fit()
	middle := r.h.at(r.dip) + l.t/l.n + ((refilled(from)+refilled(to))/2-l.g/l.n)/slope
	if r.stalls(middle + (refilled(nearlyFull)-(refilled(from)+refilled(to))/2)/slope) {
		return
	}
	step := (middle - r.h.at(r.dip)) / (placesBefore - dipPlace)
	if !(step > 0) {
		return
	}
	if o.looks == 0 || math.Abs(step-o.step) > o.step/4 {
		o.step, o.looks, o.lag, o.good = step, 0, lagFirst, false
	}
	start := middle - placesBefore*o.step
	if start <= r.h.oldest() || start+places*o.step >= r.h.newest() {
		return
	}
	o.looks++
	share := max(lagShare, 1/float64(o.looks))
	i, _ := r.h.find(start)
	for p := range o.curve {
		t := start + float64(p)*o.step
		for r.h.at(i+1) <= t {
			i++
		}
		q := r.h.cubic(r.c, i)
		o.curve[p] += share * (q.at((t-r.h.at(i))/q.step)/r.ambient - o.curve[p])
	}
	o.search(from, to)
}

// search finds the lag from the mean refill, and what it does to the slope between
// two ratios.
func (o *hose) search(from, to float64) {
	low := slices.Min(o.curve[:])
	end := min(low+refillTo*(1-low), to+0.03)
	var lags, rests [len(lagFrom)]float64
	for i, share := range lagFrom {
		lags[i], rests[i] = o.best(low+share*(1-low), end)
	}
	best := slices.Min(rests[:])
	for i := range lags {
		if rests[i] <= asGood*best {
			o.lag = lags[i]
			break
		}
	}
	o.from = low + slopeFrom*(1-low)
	from = max(from, o.from)
	raw, _ := o.straight(0, from, to)
	undone, _ := o.straight(o.lag, from, to)
	o.good = o.looks >= leastLooks && best < crooked*crooked && raw > 0 && undone > 0 && o.lag < lagMost
	if o.good {
		o.factor = undone / raw
	}
}

// best returns the lag near the last that makes the refill straightest, and how
// straight: the mean square off it over what noise alone would do.
func (o *hose) best(from, to float64) (lag, rest float64) {
	mid := min(max(o.lag, lagStep), lagMost)
	var q [3]float64
	for i := range q {
		l := mid + lagStep*float64(i-1)
		back := l / (2 * slopePlaces * o.step)
		_, q[i] = o.straight(l, from, to)
		q[i] /= 1 + back*back // places lie closer than samples: less than 2
	}
	// What is known before weighs as much as lagWeight places.
	rest = min(q[0], q[1], q[2])
	for i := range q {
		off := (mid + lagStep*float64(i-1) - lagFirst) / lagSD
		q[i] += rest * lagWeight / places * off * off
	}
	switch bend := q[0] - 2*q[1] + q[2]; {
	case math.IsInf(q[0]+q[1]+q[2], 1):
		return o.lag, math.Inf(1)
	case bend > 0:
		mid += min(max((q[0]-q[2])/2/bend, -2), 2) * lagStep
	case q[2] < q[0]:
		mid += lagStep
	default:
		mid -= lagStep
	}
	return min(max(mid, 0), lagMost), rest
}

// straight undoes a lag and fits a straight line to the integral of the mean
// refill between two ratios of pressures, backwards from its end: its slope in 1/s,
// and the mean square off it.
func (o *hose) straight(lag, from, to float64) (slope, rest float64) {
	k := &o.curve
	back := lag / (2 * slopePlaces * o.step)
	var l line
	for p := places - 1 - slopePlaces; p >= slopePlaces; p-- {
		v := k[p] + back*(k[p+slopePlaces]-k[p-slopePlaces])
		if v > to && (l.n == 0 || p > placesBefore) {
			l = line{}
			continue
		}
		if v < from {
			break
		}
		l.add(float64(p), refilled(v))
	}
	if l.n < leastSamples {
		return 0, math.Inf(1)
	}
	slope, rest = l.fit()
	return slope / o.step, rest * psiSquare
}

// psiSquare turns a mean square of the integral into one of ratios, about.
const psiSquare = 0.4
