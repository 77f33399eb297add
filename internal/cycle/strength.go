package cycle

import "math"

// Constants of the strength of a dip: by what share it is deeper than usual. Dips
// scatter in strength from cycle to cycle, and a strong one moves its flanks as a
// change of the crank does. Its depth tells the two apart, for it knows nothing of
// when the dip came.
const (
	// depthWidth is over which share of a cycle the depth of a dip is taken. Chosen:
	// noise falls to a third at idle.
	depthWidth = 0.06
	// strengthReach is how far around its usual place a dip is looked for, and
	// strengthSeen how much of that must have come, in cycles. Chosen.
	strengthReach = 0.12
	strengthSeen  = 0.06
	// strengthShare is the share by which a dip renews the usual depth, and half of it
	// that by which it renews the scatter.
	strengthShare = 0.1
	// What is weaker than by mostWeak or stronger than by mostStrong is no strength but
	// an engine that stalls, a hose that comes off, a channel on a rail; at the second
	// in a row what is usual begins anew. Chosen: misfires are weaker by 0.5 to 0.6.
	mostWeak   = 0.85
	mostStrong = 0.8
	// leastUnit is the depth of a dip, kPa, and steadyPeriod the most change of the
	// period, as a share, with which strengths are made out. Chosen.
	leastUnit    = 5.0
	steadyPeriod = 0.04
	// depthSays is the share of the scatter that the depth leaves open, as a standard
	// deviation, and depthNoise how far a depth is off, kPa. Measured: with a half and
	// with double of them the speed is less right on recordings of all kinds.
	depthSays  = 0.1
	depthNoise = 0.05
	// depthBends is how far a strength is out of proportion to what it does to the
	// flanks, as a share of its square. Measured on a refill through a nozzle.
	depthBends = 0.3
	// atOnce is the share of its square by which what is common to all dips at a
	// boundary counts as usual. Chosen: two standard deviations.
	atOnce = 0.25
)

// pull is what moves the flanks next to a boundary: the strength of the dip next to it,
// and of the dip before that.
type pull struct{ now, before float64 }

// strength is what is known of the strength of a cylinder's dips.
type strength struct {
	pull            // at the boundary, 0 where it is not known
	earlier [2]pull // at the last boundary and at the one before
	known   bool
	usual   float64 // depth, kPa absolute
	unit    float64 // kPa of depth that are a strength of 1
	seen    int
	square  float64 // mean of the squares
	odd     bool    // the last was no strength
}

// measureStrengths takes the dips next to a boundary of a cycle of the given period;
// before is that of the cycle before.
func (t *template) measureStrengths(h *history, boundary, period, before float64) {
	steady := math.Abs(period-before) < steadyPeriod*period && period > enoughSamples*h.step
	common := 0.0
	t.known = 0
	for c := range t.kpa {
		s := &t.strength[c]
		s.measure(h, c, boundary, period, t.dip[c])
		if s.known = s.known && steady && s.unit > leastUnit; s.known {
			common += s.now
			t.known++
		}
	}
	if t.known < 2 {
		t.known, common = 0, 0
	}
	t.leaveCommon(common / max(1, float64(t.known)))
	t.compose()
}

// leaveCommon takes out of the strengths what is common to all cylinders beyond what
// dips that scatter by themselves have in common by chance: throttle and speed do that,
// and it comes and goes with the crank.
func (t *template) leaveCommon(common float64) {
	chance, n := 0.0, float64(t.known)
	for c := range t.kpa {
		s := &t.strength[c]
		if s.known = s.known && n > 0; !s.known {
			s.now = 0
			continue
		}
		off := s.now - common
		s.square += max(strengthShare/2, 1/float64(s.seen)) * (off*off*n/(n-1) - s.square)
		chance += s.square / n / n
	}
	t.common += max(strengthShare/2, 1/float64(t.cycles+1)) * (common*common - t.common)
	keep := min(1, chance/max(t.common, atOnce*common*common, 1e-9))
	for c := range t.kpa {
		if s := &t.strength[c]; s.known {
			s.now -= (1 - keep) * common
		}
	}
	t.left = (1 - keep) * t.common
}

// compose lays out what the half cycle around the boundary should look like.
func (t *template) compose() {
	for c := range t.kpa {
		p := t.strength[c].pull
		t.pulled(c, 0, windowBins, p)
		t.pulled(c, bins-windowBins, bins, p)
	}
}

// pulled lays out the bins of cylinder c from one to another as a pull moves them.
func (t *template) pulled(c, from, to int, p pull) {
	k, mode, tail, due := t.kpa[c], t.mode[c], t.tail[c], &t.due[c]
	if p == (pull{}) {
		copy(due[from:to+1], k[from:to+1])
		return
	}
	for b := from; b <= to; b++ {
		due[b] = k[b] + p.now*mode[b] + p.before*tail[b]
	}
}

// measure takes the dip next to a boundary, or the last one if that has yet to come;
// dip is where in the cycle it usually is.
func (s *strength) measure(h *history, c int, boundary, period, dip float64) {
	s.earlier = [2]pull{s.pull, s.earlier[0]}
	s.pull, s.known = pull{before: s.now}, false
	if dip > 0.5 {
		dip--
	}
	if dip+strengthSeen > ahead {
		dip--
	}
	from, to := boundary+(dip-strengthReach)*period, boundary+min(dip+strengthReach, ahead)*period
	depth, ok := h.depth(c, from, to, depthWidth*period)
	if !ok {
		return
	}
	a := (s.usual - depth) / s.unit
	switch in := -mostWeak < a && a < mostStrong; {
	case s.seen == 0, !in && s.odd:
		s.usual, s.seen, s.odd = depth, 1, false
		return
	case !in:
		s.odd = true
		return
	}
	s.seen++
	s.now, s.known, s.odd = a, true, false
	s.usual += max(strengthShare, 1/float64(s.seen)) * (depth - s.usual)
}

// doubt returns the variance of what a strength leaves open; spread is that of an
// unknown one. What is common to all is left to the match.
func (s *strength) doubt(spread float64) float64 {
	if !s.known {
		return spread
	}
	noise, bent := depthNoise/s.unit, depthBends*s.now*s.now
	return min(spread, depthSays*depthSays*s.square+noise*noise+bent*bent)
}

// depth returns the lowest mean pressure of cylinder c over width seconds between two
// times; ok is false when it lies at one of them, or they are not in the history.
func (h *history) depth(c int, from, to, width float64) (lowest float64, ok bool) {
	if from <= h.oldest() || to >= h.newest() {
		return 0, false
	}
	i0, _ := h.find(from)
	i1, _ := h.find(to)
	n := max(1, int(width/h.step+0.5))
	k := h.kpa[c]
	sum := 0.0
	for i := i0 + 1; i <= i0+n; i++ {
		sum += k[i&h.mask]
	}
	first, last, at := i0+n, i1, 0
	lowest = math.Inf(1)
	for i := first; i <= last; i++ {
		if sum < lowest {
			lowest, at = sum, i
		}
		sum += k[(i+1)&h.mask] - k[(i+1-n)&h.mask]
	}
	return lowest / float64(n), at > first && at < last
}
