package cycle

import "evendraw/internal/sensor"

// history keeps the last samples, and their running integrals, so that a mean
// between any two times costs the same.
type history struct {
	channels []int
	count    int // samples ever pushed since reset
	mask     int
	time     []float64
	kpa      [][]float64 // by cylinder
	area     [][]float64 // integral of kpa over time since reset
	rail     [][]sensor.Rail
	gap      []bool
}

// newHistory keeps at least size samples of the given channels.
func newHistory(channels []int, size int) *history {
	n := 1
	for n < size {
		n *= 2
	}
	h := &history{channels: channels, mask: n - 1, time: make([]float64, n), gap: make([]bool, n)}
	for range channels {
		h.kpa = append(h.kpa, make([]float64, n))
		h.area = append(h.area, make([]float64, n))
		h.rail = append(h.rail, make([]sensor.Rail, n))
	}
	return h
}

func (h *history) reset() { h.count = 0 }

func (h *history) push(s *sensor.Sample) {
	i := h.count & h.mask
	before := (h.count - 1) & h.mask
	h.time[i] = s.Time
	h.gap[i] = s.Gap > 0
	for c, channel := range h.channels {
		v := float64(s.Absolute[channel])
		h.kpa[c][i] = v
		h.rail[c][i] = s.Rails[channel]
		if h.count == 0 {
			h.area[c][i] = 0
		} else {
			h.area[c][i] = h.area[c][before] + (v+h.kpa[c][before])/2*(s.Time-h.time[before])
		}
	}
	h.count++
}

// first returns the number of the oldest sample kept.
func (h *history) first() int { return max(0, h.count-len(h.time)) }

// newest returns the time of the last sample; the history must not be empty.
func (h *history) newest() float64 { return h.time[(h.count-1)&h.mask] }

// oldest returns the time of the oldest sample kept.
func (h *history) oldest() float64 { return h.time[h.first()&h.mask] }

// find returns the number of the last sample at or before t, and how far t
// lies to the next, 0 to 1. t must lie between oldest and newest.
func (h *history) find(t float64) (sample int, share float64) {
	low, high := h.first(), h.count-1
	t0, t1 := h.oldest(), h.newest()
	if t >= t1 {
		return max(high-1, low), 1
	}
	// Samples are nearly even in time: a straight guess is at most a few off.
	i := low + int(float64(high-low)*(t-t0)/(t1-t0))
	i = min(max(i, low), high-1)
	for i > low && h.time[i&h.mask] > t {
		i--
	}
	for i < high-1 && h.time[(i+1)&h.mask] <= t {
		i++
	}
	a, b := h.time[i&h.mask], h.time[(i+1)&h.mask]
	return i, (t - a) / (b - a)
}

// value returns the pressure of cylinder c (from 0) at the place find gave.
func (h *history) value(c, sample int, share float64) float64 {
	a, b := h.kpa[c][sample&h.mask], h.kpa[c][(sample+1)&h.mask]
	return a + share*(b-a)
}

// integral returns the area of cylinder c up to the place find gave: the
// trapezoid to the sample, then the part of the next.
func (h *history) integral(c, sample int, share float64) float64 {
	a := h.kpa[c][sample&h.mask]
	step := h.time[(sample+1)&h.mask] - h.time[sample&h.mask]
	return h.area[c][sample&h.mask] + share*step*(a+h.value(c, sample, share))/2
}
