package cycle

import "math"

// Constants of the lag of a hose and its sensor, taken together as one of first
// order. Between intake strokes a runner refills through its butterfly alone, so
// that the integral of dp over the nozzle function grows evenly in time. The lag
// is the one whose undoing makes the refill straightest: undone too little, the
// refill starts late; too much, it starts too fast.
const (
	// lagStep is the distance of the lags that are tried, from 0 on, s. Chosen:
	// short hoses have 2 to 6 ms.
	lagStep  = 2.5e-3
	lagTried = 5
	// lagShare is the share by which a look renews what is known.
	lagShare = 0.05
	// leastLooks is how many looks it takes to know a lag. Chosen.
	leastLooks = 4
	// refillTo ends the refill that is looked at, as a share of the way from the
	// dip to ambient; asGood is how much worse than from the best beginning the
	// refill may fit. Chosen.
	refillTo = 0.85
	asGood   = 1.2
	// crooked is the root mean square departure from a straight refill, in
	// ratios to ambient and above what noise is made to by undoing the lag, from
	// which on it is none. Measured: noise of sensor and 10 bits gives 0.001.
	crooked = 0.002
	// shallowest is the ratio of the dip's pressure to ambient above which there
	// is no refill worth the name. Chosen.
	shallowest = 0.72
	// leastSamples is the fewest samples of a refill that are looked at.
	leastSamples = 5
)

// refillFrom are beginnings of the refill that are tried, as shares of the way
// from the dip to ambient: the valve shuts somewhere on the way up. The later the
// look begins, the less is left of the lag to see; too early, nothing fits.
var refillFrom = [...]float64{0.08, 0.13, 0.19, 0.26}

// hose is what is known of one channel's lag.
type hose struct {
	lag    float64 // s
	looks  int
	good   bool
	rest   [len(refillFrom)][lagTried]float64 // mean square off a straight refill
	factor float64                            // of the opening with the lag undone over that without
}

// stretch is one refill in the history, from the dip to near the next fall.
type stretch struct {
	h         *history
	c         int
	dip, end  int // samples
	low, high float64
	ambient   float64
	step      float64 // s, of the slopes
	reach     int     // samples to each side that a slope is taken over
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
	r.reach = max(1, int(slopeSeconds/h.step+0.5))
	r.step = float64(2*r.reach) * (h.at(r.end) - h.at(r.dip)) / float64(max(r.end-r.dip, 1))
	return r.low < shallowest*ambient && r.high > r.low+(ambient-r.low)/2 && r.step > 0
}

// refillLongest is how long a refill is looked at, in cycles after the dip, and
// slopeSeconds how far to each side of a sample a slope is taken over. Chosen.
const (
	refillLongest = 0.6
	slopeSeconds  = 2e-3
)

// ratio returns the pressure over ambient at a sample, a lag undone.
func (r *stretch) ratio(i int, back float64) float64 {
	k, mask := r.h.kpa[r.c], r.h.mask
	return (k[i&mask] + back*(k[(i+r.reach)&mask]-k[(i-r.reach)&mask])) / r.ambient
}

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

// look renews what is known from one refill.
func (o *hose) look(r *stretch) {
	var rest [len(refillFrom)][lagTried]float64
	for l := range lagTried {
		lag := lagStep * float64(l)
		if !r.rests(lag, l, &rest) {
			return
		}
	}
	o.looks++
	share := max(lagShare, 1/float64(o.looks))
	best, worst := math.Inf(1), 0.0
	var lags, least [len(refillFrom)]float64
	for i := range rest {
		for l := range lagTried {
			o.rest[i][l] += share * (rest[i][l] - o.rest[i][l])
		}
		lags[i], least[i] = lowest(&o.rest[i])
		best, worst = min(best, least[i]), max(worst, least[i])
	}
	for i := range lags {
		if least[i] <= asGood*best {
			o.lag = lags[i]
			break
		}
	}
	raw, a := r.between(0)
	undone, b := r.between(o.lag)
	if a && b {
		if o.factor == 0 {
			o.factor = 1
		}
		o.factor += share * (undone/raw - o.factor)
	}
	o.good = o.looks >= leastLooks && best < crooked*crooked && o.factor > 0 && o.lag < lagStep*(lagTried-1)
}

// rests fills in, for one lag undone, how far the refill is off a straight line
// from each beginning on, over what the undoing makes of noise.
func (r *stretch) rests(lag float64, l int, rest *[len(refillFrom)][lagTried]float64) bool {
	back := lag / r.step
	amplified := 1 + 2*back*back
	rise := r.ambient - r.low
	to := min(r.low+refillTo*rise, r.high-0.05*(r.high-r.low)) / r.ambient
	i := r.end
	for i > r.dip && r.ratio(i, back) > to {
		i--
	}
	var s line
	next := len(refillFrom) - 1
	for t := 0.0; i > r.dip && next >= 0; i-- {
		p := r.ratio(i, back)
		for next >= 0 && p < (r.low+refillFrom[next]*rise)/r.ambient {
			if s.n < leastSamples {
				return false
			}
			_, q := s.fit()
			// From the integral to ratios, about.
			rest[next][l] = q * 0.4 / amplified
			next--
		}
		s.add(t, refilled(p))
		t++
	}
	for ; next >= 0; next-- {
		if s.n < leastSamples {
			return false
		}
		_, q := s.fit()
		rest[next][l] = q * 0.4 / amplified
	}
	return true
}

// lowest returns the lag of the lowest point of the parabola through the least
// of the rests and its neighbours, and that rest.
func lowest(rest *[lagTried]float64) (lag, least float64) {
	b := 0
	for l, q := range rest {
		if q < rest[b] {
			b = l
		}
	}
	least = rest[b]
	b = min(max(b, 1), lagTried-2)
	x, y, z := rest[b-1], rest[b], rest[b+1]
	at := float64(b)
	if bend := x - 2*y + z; bend > 0 {
		at += min(max((x-z)/2/bend, -1), 1)
	}
	return lagStep * at, least
}
