package cycle

import (
	"math"
	"slices"

	"evendraw/internal/misfire"
)

// A beat is the moment of a cylinder's intake flank: when the pressure passes the middle of its fall.
// Beats are the crank's clock, a tick for each cylinder, also behind hoses.

// Constants of beats.
const (
	// beatReach is how far from its expected time a beat's dip is looked for, in cycles, and
	// fallReach how far before the dip the fall begins at most. Chosen.
	beatReach = 0.13
	fallReach = 0.3
	// The moment is the mean of those at which the pressure passes these shares of its fall: noise
	// then moves it by 0.01 to 0.03 ms.
	beatLevels             = 5
	highestBeat, beatSteps = 0.7, 0.1
	// minFall is the smallest fall that has a beat, kPa. Chosen.
	minFall = 3.0
	// A fall goes from the median of the samples within endSeconds of where it begins to that around where it ends, of
	// three samples at least, mostEnd to each side at most. Chosen: the rest of an ignition spike, which comes at both,
	// is of a sample or two; it moved beats by up to 4 thousandths of a cycle (measured).
	endSeconds = 2e-3
	mostEnd    = 8
	// beatLagSD is how badly a lag may be known for beats to be told apart from it, s. Chosen; measured: at 700 rpm,
	// with zeros that had drifted by 0.1 kPa, a sound cylinder was told not to fire.
	beatLagSD = 1e-3
)

// smooth returns the pressure of cylinder c at a sample without a spike: the middle one of it and its neighbours.
func (h *history) smooth(c, sample int) float64 {
	k := h.kpa[c][sample-1:][:3]
	return max(min(k[0], k[1]), min(max(k[0], k[1]), k[2]))
}

// end returns the median of the pressure of cylinder c around a sample.
func (h *history) end(c, sample int) float64 {
	w := min(max(1, int(endSeconds/h.step+0.5)), mostEnd)
	w = min(w, sample-h.first(), h.count-1-sample)
	var near [2*mostEnd + 1]float64
	n := copy(near[:], h.kpa[c][sample-w:sample+w+1])
	slices.Sort(near[:n])
	return near[n/2]
}

// beat finds the moment of cylinder c's flank whose dip is near the time dip, and how far the pressure falls
// in it; NaN where there is none.
func (h *history) beat(c int, dip, period float64) (moment, fall float64) {
	i0, _ := h.find(dip - beatReach*period)
	i1, _ := h.find(dip + beatReach*period)
	first, _ := h.find(dip - (beatReach+fallReach)*period)
	if first <= h.first()+1 || i1 >= h.count-2 {
		return math.NaN(), math.NaN()
	}
	low, bottom := i0, h.smooth(c, i0)
	for i := i0 + 1; i <= i1; i++ {
		if v := h.smooth(c, i); v < bottom {
			low, bottom = i, v
		}
	}
	high, top := low, bottom
	for i := low - 1; i >= max(first, low-(i1-i0)*2); i-- {
		if v := h.smooth(c, i); v > top {
			high, top = i, v
		}
	}
	top, bottom = h.end(c, high), h.end(c, low)
	if fall = top - bottom; fall < minFall {
		return math.NaN(), math.NaN()
	}
	level, step := bottom+(highestBeat-beatSteps*(beatLevels-1))*fall, beatSteps*fall
	sum, n, after := 0.0, 0, h.smooth(c, low)
	for i := low; i > high && n < beatLevels; i-- {
		before := h.smooth(c, i-1)
		for n < beatLevels && before >= level {
			u := min(max((level-before)/(after-before), 0), 1)
			sum += h.at(i-1) + u*(h.at(i)-h.at(i-1))
			level += step
			n++
		}
		after = before
	}
	if n < beatLevels {
		return math.NaN(), math.NaN()
	}
	return sum / float64(n), fall
}

// lateness returns by how much the dip of a cylinder's course over a cycle, k as felt behind a lag, comes later
// than the runner's, in s; step is the time between bins.
func lateness(k *curve, lag, step float64) float64 {
	var undone curve
	undoLag(&undone, k, lag, step)
	_, felt, _ := extremes(k[:bins])
	_, own, _ := extremes(undone[:bins])
	return float64((felt-own+bins)&(bins-1)) * step
}

// watchMisfires has the span's cycle looked through for misfires.
func (t *Tracker) watchMisfires() {
	h, s := t.history, &t.span
	var lags [MaxCylinders]float64
	y := misfire.Cycle{Start: t.follow.boundary - s.Period, Period: s.Period, Dip: t.follow.template.dip,
		Ambient: float64(t.health.ambient), Lags: &lags,
		Beat: func(c int, dip float64) (float64, float64) { return h.beat(c, dip, s.Period) }}
	for c := range h.channels {
		y.Draw += (y.Ambient - float64(s.Mean[c])) / float64(s.N)
		if lags[c] = t.hoses[c].lag; !t.hoses[c].good || t.hoses[c].lagSD > beatLagSD {
			y.Lags = nil
		}
	}
	s.Misfire = t.misfires.Push(&y)
	s.Either = t.misfires.Either()
	s.Fell, s.Stopped = t.misfires.Fell()
}
