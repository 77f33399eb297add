package cycle

import "math"

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
)

// beat finds the moment of cylinder c's flank whose dip is near the time dip, and how far the pressure falls
// in it; NaN where there is none.
func (h *history) beat(c int, dip, period float64) (moment, fall float64) {
	i0, _ := h.find(dip - beatReach*period)
	i1, _ := h.find(dip + beatReach*period)
	first, _ := h.find(dip - (beatReach+fallReach)*period)
	if first <= h.first() || i1 >= h.count-1 {
		return math.NaN(), math.NaN()
	}
	k := h.kpa[c]
	low := i0
	for i := i0 + 1; i <= i1; i++ {
		if k[i] < k[low] {
			low = i
		}
	}
	high := low
	for i := low - 1; i >= max(first, low-(i1-i0)*2); i-- {
		if k[i] > k[high] {
			high = i
		}
	}
	bottom := k[low]
	if fall = k[high] - bottom; fall < minFall {
		return math.NaN(), math.NaN()
	}
	sum, level := 0.0, bottom+(highestBeat-beatSteps*(beatLevels-1))*fall
	n := 0
	for i := low; i > high && n < beatLevels; i-- {
		for n < beatLevels && k[i-1] >= level {
			u := (level - k[i-1]) / (k[i] - k[i-1])
			sum += h.at(i-1) + u*(h.at(i)-h.at(i-1))
			level += beatSteps * fall
			n++
		}
	}
	return sum / float64(n), fall
}
