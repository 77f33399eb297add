package cycle

import "math"

// Constants of the strength of a dip: by what share it is deeper than usual,
//
//	strength = (usual - depth) / unit,   unit = mean pressure of the cycle - lowest
//
// Dips scatter in strength from cycle to cycle, and a strong one moves its flanks as a change
// of the crank does. The depth tells the two apart, as it does not depend on when the dip came.
const (
	// depthWidth is the share of a cycle over which the depth of a dip is averaged. Chosen:
	// noise falls to a third at idle.
	depthWidth = 0.06
	// strengthReach is how far to each side of its usual place a dip is looked for, and
	// minDipSeen how much of it must have come after that place, in cycles. Chosen.
	strengthReach = 0.12
	minDipSeen    = 0.06
	// strengthShare is the share by which a dip renews the usual depth, and half of it
	// the share by which it renews the scatter.
	strengthShare = 0.1
	// A dip weaker by more than maxWeaker or stronger by more than maxStronger is odd: an
	// engine that stalls, a hose that comes off, a channel on a rail. At the second in a row
	// the usual depth begins anew. Chosen: misfires are weaker by 0.5 to 0.6.
	maxWeaker   = 0.85
	maxStronger = 0.8
	// minDipUnit is the smallest unit of a strength, kPa, and maxPeriodChange the largest
	// change of the period, as a share, with which strengths are measured. Chosen.
	minDipUnit      = 5.0
	maxPeriodChange = 0.04
	// depthErrorShare is the error of a strength from the depth, as a share of the
	// strengths' scatter, and depthNoise the error of a depth, kPa. Measured: with half and
	// with double of them the speed is less exact on recordings of all kinds.
	depthErrorShare = 0.1
	depthNoise      = 0.05
	// bendShare times its square is how far a strength is out of proportion to what it
	// does to the flanks. Measured on a refill through a nozzle.
	bendShare = 0.3
	// commonAtOnce is the share of the square of what dips at one boundary have in common
	// that counts as usual at once. Chosen: two standard deviations.
	commonAtOnce = 0.25
)

// dipStrengths move the flanks next to a boundary: the strength of the dip next to it, and of
// the dip before that.
type dipStrengths struct{ now, before float64 }

// strength is what is known of the strength of a cylinder's dips.
type strength struct {
	dipStrengths                 // at the boundary, 0 where unknown
	earlier      [2]dipStrengths // at the last boundary and at the one before
	known        bool
	usual        float64 // depth, kPa absolute
	unit         float64 // kPa of depth that are a strength of 1
	dips         int     // that usual is made of
	square       float64 // mean square of the strengths
	odd          bool    // the last dip was odd: see maxWeaker
}

// measureStrengths measures the dips next to a boundary; period is that of the cycle, before that of the cycle
// before.
func (t *template) measureStrengths(h *history, boundary, period, before float64) {
	steady := math.Abs(period-before) < maxPeriodChange*period && period > minDetailSamples*h.step
	common := 0.0
	t.known = 0
	for c := range t.kpa {
		s := &t.strength[c]
		s.measure(h, c, boundary, period, t.dip[c])
		if s.known = s.known && steady && s.unit > minDipUnit; s.known {
			common += s.now
			t.known++
		}
	}
	if t.known < 2 {
		t.known, common = 0, 0
	}
	t.removeCommon(common / max(1, float64(t.known)))
}

// removeCommon takes out of the strengths what they have in common beyond chance: that comes from
// the throttle and the speed, and would be taken from the crank.
//
//	keep = variance of the mean of n independent strengths / mean square of what is common
func (t *template) removeCommon(common float64) {
	chance, n := 0.0, float64(t.known)
	for c := range t.kpa {
		s := &t.strength[c]
		if s.known = s.known && n > 0; !s.known {
			s.now = 0
			continue
		}
		off := s.now - common
		s.square += max(strengthShare/2, 1/float64(s.dips)) * (off*off*n/(n-1) - s.square)
		chance += s.square / n / n
	}
	t.common += max(strengthShare/2, 1/float64(t.cycles+1)) * (common*common - t.common)
	keep := min(1, chance/max(t.common, commonAtOnce*common*common, 1e-9))
	for c := range t.kpa {
		if s := &t.strength[c]; s.known {
			s.now -= (1 - keep) * common
		}
	}
	t.openCommon = (1 - keep) * t.common
}

// compose works out the expected course of the half cycle around the boundary.
func (t *template) compose() {
	for c := range t.kpa {
		p := t.strength[c].dipStrengths
		t.composeBins(c, 0, windowBins, p)
		t.composeBins(c, bins-windowBins, bins, p)
	}
}

// composeBins works out the bins of cylinder c from one up to another, with the strengths p.
func (t *template) composeBins(c, from, to int, p dipStrengths) {
	k, mode, tail, due := t.kpa[c], t.mode[c], t.tail[c], &t.expected[c]
	if p == (dipStrengths{}) {
		copy(due[from:to+1], k[from:to+1])
		return
	}
	for b := from; b <= to; b++ {
		due[b] = k[b] + p.now*mode[b] + p.before*tail[b]
	}
}

// measure measures the dip next to a boundary, or the one before if that has yet to come; dip is
// where in the cycle it usually is.
func (s *strength) measure(h *history, c int, boundary, period, dip float64) {
	s.earlier = [2]dipStrengths{s.dipStrengths, s.earlier[0]}
	s.dipStrengths, s.known = dipStrengths{before: s.now}, false
	if dip > 0.5 {
		dip--
	}
	if dip+minDipSeen > lookAhead {
		dip--
	}
	from, to := boundary+(dip-strengthReach)*period, boundary+min(dip+strengthReach, lookAhead)*period
	depth, ok := h.depth(c, from, to, depthWidth*period)
	if !ok {
		return
	}
	a := (s.usual - depth) / s.unit
	switch in := -maxWeaker < a && a < maxStronger; {
	case s.dips == 0, !in && s.odd:
		s.usual, s.dips, s.odd = depth, 1, false
		return
	case !in:
		s.odd = true
		return
	}
	s.dips++
	s.now, s.known, s.odd = a, true, false
	s.usual += max(strengthShare, 1/float64(s.dips)) * (depth - s.usual)
}

// openVariance returns the variance of the error of a strength; spread is that of an unknown one.
func (s *strength) openVariance(spread float64) float64 {
	if !s.known {
		return spread
	}
	noise, bent := depthNoise/s.unit, bendShare*s.now*s.now
	return min(spread, depthErrorShare*depthErrorShare*s.square+noise*noise+bent*bent)
}

// depth returns the lowest running mean of cylinder c's pressure, over width seconds, between two
// times; ok is false when it lies at one of them, or they are not in the history.
func (h *history) depth(c int, from, to, width float64) (lowest float64, ok bool) {
	if from <= h.oldest() || to >= h.newest() {
		return 0, false
	}
	i0, _ := h.find(from)
	i1, _ := h.find(to)
	n := max(1, int(width/h.step+0.5))
	first, last, at := i0+n, i1, 0
	if first > last {
		return 0, false
	}
	k := h.kpa[c]
	sum := 0.0
	for _, v := range k[i0+1 : first+1] {
		sum += v
	}
	lowest = math.Inf(1)
	for i := first; i <= last; i++ {
		if sum < lowest {
			lowest, at = sum, i
		}
		sum += k[i+1] - k[i+1-n]
	}
	return lowest / float64(n), at > first && at < last
}
