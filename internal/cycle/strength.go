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
	// a misfire, an engine that stalls, a hose that comes off, a channel on a rail; at
	// the second in a row what is usual begins anew. Chosen.
	mostWeak   = 0.6
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
)

// strength is what is known of the strength of a cylinder's dips.
type strength struct {
	usual  float64 // depth, kPa absolute
	unit   float64 // kPa of depth that are a strength of 1
	seen   int
	square float64 // mean of the squares, and that of what is common to all
	common float64
	now    float64 // of the dip next to the boundary, 0 if it is not known
	before float64 // of the dip before that
	known  bool
	odd    bool // the last was no strength
}

// measureStrengths takes the dips next to a boundary of a cycle of the given period;
// before is that of the cycle before. What is common to all cylinders is no strength:
// the throttle and the speed do that, and it comes and goes with the crank.
func (t *template) measureStrengths(h *history, boundary, period, before float64) {
	steady := math.Abs(period-before) < steadyPeriod*period && period > enoughSamples*h.step
	common, n := 0.0, 0.0
	t.known = 0
	for c := range t.kpa {
		s := &t.strength[c]
		s.measure(h, c, boundary, period, t.dip[c])
		if s.known = s.known && steady && s.unit > leastUnit; s.known {
			common += s.now
			n++
		}
	}
	for c := range t.kpa {
		s := &t.strength[c]
		if !s.known || n < 2 {
			s.now, s.known = 0, false
			continue
		}
		t.known++
		s.now -= common / n
		share := max(strengthShare/2, 1/float64(s.seen))
		s.square += share * (s.now*s.now - s.square)
		s.common += share * (common*common/n/n - s.common)
	}
}

// measure takes the dip next to a boundary, or the last one if that has yet to come;
// dip is where in the cycle it usually is.
func (s *strength) measure(h *history, c int, boundary, period, dip float64) {
	s.now, s.before, s.known = 0, s.now, false
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
// unknown one.
func (s *strength) doubt(spread float64) float64 {
	if !s.known {
		return spread
	}
	noise := depthNoise / s.unit
	return min(spread, depthSays*depthSays*s.square+s.common+noise*noise)
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
