package cycle

import (
	"math/bits"

	"evendraw/internal/sensor"
)

// history keeps the last samples, one after the other. At twice its capacity the older half goes, and the others move
// to its place: push tells by how much their numbers are less then.
type history struct {
	channels []int
	capacity int // samples kept
	count    int // samples held, also of those that count as gone
	time     []float64
	kpa      [][]float64 // by cylinder
	flags    []uint32
	step     float64 // usual seconds between samples
}

// Flags of a sample: low rails by cylinder, high rails by cylinder, missing
// samples before it, samples less than fineStep apart.
const (
	railHighShift = 8
	railFlags     = 1<<16 - 1
	gapFlag       = 1 << 16
	fineFlag      = 1 << 17
)

// stepShare is the share by which a new sample renews history.step, and maxStep the most
// that its step counts for, in usual steps: a gap is no step. Chosen.
const (
	stepShare = 1.0 / 64
	maxStep   = 1.5
)

// newHistory keeps at least size samples of the given channels.
func newHistory(channels []int, size int) *history {
	most := 1 << bits.Len(uint(size-1)) // a power of two: see despike.noteRate
	return &history{channels: channels, capacity: most, kpa: make([][]float64, len(channels))}
}

func (h *history) reset() { h.count = 0 }

// firstRoom is how many samples a new history has room for, a second of them at 1000 a second.
// It grows as they come, so that a board that restarts all the time costs little.
const firstRoom = 1024

// makeRoom makes room for further samples; it returns by how much the numbers of samples are less from now on.
func (h *history) makeRoom() (moved int) {
	room := min(max(2*h.count, firstRoom), 2*h.capacity)
	if h.count == room {
		moved = h.capacity
	}
	h.time, h.flags = inRoom(h.time, moved, room), inRoom(h.flags, moved, room)
	for c, k := range h.kpa {
		h.kpa[c] = inRoom(k, moved, room)
	}
	h.count -= moved
	return moved
}

// inRoom returns what all holds from a number on, in a slice of that room.
func inRoom[T any](all []T, from, room int) []T {
	copy(all, all[from:])
	return append(all, make([]T, room-len(all))...)
}

// push takes a sample, and returns by how much the numbers of those before it are less from now on.
func (h *history) push(s *sensor.Sample) (moved int) {
	if h.count == len(h.time) {
		moved = h.makeRoom()
	}
	i := h.count
	switch {
	case h.count == 1:
		h.step = s.Time - h.time[0]
	case h.count > 1:
		step := s.Time - h.newest()
		if most := maxStep * h.step; step > most {
			step = most
		}
		h.step += stepShare * (step - h.step)
	}
	h.time[i] = s.Time
	flags := uint32(0)
	if s.Gap > 0 {
		flags = gapFlag
	}
	if h.step < fineStep {
		flags |= fineFlag
	}
	for c, k := range h.kpa {
		k[i] = float64(s.Absolute[h.channels[c]])
	}
	if s.Rails != [sensor.MaxChannels]sensor.Rail{} {
		flags |= h.rails(s)
	}
	h.flags[i] = flags
	h.count++
	return moved
}

// rails returns the flags of a sample's rails.
func (h *history) rails(s *sensor.Sample) (flags uint32) {
	for c, channel := range h.channels {
		switch s.Rails[channel] {
		case sensor.RailLow:
			flags |= 1 << c
		case sensor.RailHigh:
			flags |= 1 << (c + railHighShift)
		}
	}
	return flags
}

// first returns the number of the oldest sample kept.
func (h *history) first() int { return max(0, h.count-h.capacity) }

// newest returns the time of the last sample; the history must not be empty.
func (h *history) newest() float64 { return h.time[h.count-1] }

// oldest returns the time of the oldest sample kept.
func (h *history) oldest() float64 { return h.time[h.first()] }

// at returns the time of a sample.
func (h *history) at(sample int) float64 { return h.time[sample] }

// find returns the number of the last sample at or before t, and which share of
// the way to the next sample t lies at, 0 to 1. t must lie between oldest and newest.
func (h *history) find(t float64) (sample int, share float64) {
	low, high := h.first(), h.count-1
	if t >= h.newest() {
		return max(high-1, low), 1
	}
	// Samples are nearly even in time: a straight guess is at most a few off.
	i := low
	if back := (h.newest() - t) / h.step; back < float64(high-low) {
		i = high - 1 - int(back)
	}
	if h.time[max(i-nearSteps, low)] > t || h.time[min(i+nearSteps, high)] <= t {
		i = h.bisect(t, low, high-1)
	}
	for i > low && h.time[i] > t {
		i--
	}
	for i < high-1 && h.time[i+1] <= t {
		i++
	}
	a, b := h.time[i], h.time[i+1]
	return i, (t - a) / (b - a)
}

// nearSteps is how many samples around the guess are looked at one by one before bisection.
// Chosen: with gaps all over, a guess is hundreds off.
const nearSteps = 8

// bisect returns the last of the samples low to high that lies at or before t, low if none does.
func (h *history) bisect(t float64, low, high int) int {
	for low < high {
		if middle := (low + high + 1) / 2; h.time[middle] <= t {
			low = middle
		} else {
			high = middle - 1
		}
	}
	return low
}

// value returns the pressure of cylinder c (from 0) at the place find gave.
func (h *history) value(c, sample int, share float64) float64 {
	a, b := h.kpa[c][sample], h.kpa[c][sample+1]
	return a + share*(b-a)
}

// mean returns the mean pressure of cylinder c between two places that find gave: trapezoids
// between samples, corrected by the slopes at both ends (Euler and Maclaurin), and a cubic in the
// broken steps at both ends.
func (h *history) mean(c, i0 int, share0 float64, i1 int, share1 float64) float64 {
	k := h.kpa[c][i0+1 : max(i0+1, i1)+1]
	time := h.time[i0+1:][:len(k)]
	t, v := time[0], k[0]
	area := 0.0
	for i, vi := range k {
		ti := time[i]
		area += (ti - t) * (v + vi)
		t, v = ti, vi
	}
	area /= 2
	a, b := h.cubic(c, i0), h.cubic(c, i1)
	area += a.area(1) - a.area(share0) + b.area(share1)
	area -= (b.step*b.s0 - a.step*a.s1) / 12
	start, end := h.at(i0)+share0*a.step, h.at(i1)+share1*b.step
	return area / (end - start)
}

// cubic is the course from one sample to the next; the slopes at both are taken from their
// neighbours.
type cubic struct {
	step   float64 // s
	p0, p1 float64
	s0, s1 float64 // kPa a step
}

func (h *history) cubic(c, sample int) cubic {
	k := h.kpa[c]
	before, beyond := max(sample-1, h.first()), min(sample+2, h.count-1)
	q := cubic{h.at(sample+1) - h.at(sample), k[sample], k[sample+1], 0, 0}
	q.s0 = (q.p1 - k[before]) / (h.at(sample+1) - h.at(before)) * q.step
	q.s1 = (k[beyond] - q.p0) / (h.at(beyond) - h.at(sample)) * q.step
	return q
}

// area is the integral from the sample to share x of the step, kPa s.
func (q *cubic) area(x float64) float64 {
	d := q.p1 - q.p0
	a, b := q.s0+q.s1-2*d, 3*d-2*q.s0-q.s1
	return q.step * x * (q.p0 + x*(q.s0/2+x*(b/3+x*a/4)))
}

// at returns the pressure at share x of the step.
func (q *cubic) at(x float64) float64 {
	d := q.p1 - q.p0
	a, b := q.s0+q.s1-2*d, 3*d-2*q.s0-q.s1
	return q.p0 + x*(q.s0+x*(b+x*a))
}

// extremes returns the lowest and the highest pressure of cylinder c after
// sample i0 up to sample i1, and which is the lowest.
func (h *history) extremes(c, i0, i1 int) (low float64, at int, high float64) {
	low, at, high = extremes(h.kpa[c][i0+1 : max(i0+1, i1)+1])
	return low, i0 + 1 + at, high
}

// extremes returns the lowest and the highest of some figures, and which is the lowest.
func extremes(k []float64) (low float64, at int, high float64) {
	low, high = k[0], k[0]
	for i, v := range k {
		if v < low {
			low, at = v, i
		} else if v > high {
			high = v
		}
	}
	return low, at, high
}

// meanAround returns the mean pressure of cylinder c from half seconds before a time to as many after.
func (h *history) meanAround(c int, at, half float64) float64 {
	i0, share0 := h.find(at - half)
	i1, share1 := h.find(at + half)
	return h.mean(c, i0, share0, i1, share1)
}
