// Package warmup says whether an engine that idles is still warming up: by its speed, a Trend, and by the opening of a
// butterfly that no screw moves, which Runners follow. Package balance says which cycles count. Begin with Trend.
package warmup

import (
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// Constants of an engine that is still warming up.
const (
	// trendSeconds is the least stretch of undisturbed idle that a trend of the speed is told from. Chosen.
	trendSeconds = 15.0
	// trendMemory is the time after which a cycle counts e times less: an engine that has
	// warmed up is seen to idle evenly. Chosen: short beside a warm-up of minutes.
	trendMemory = 30.0
	// trendShare is the change of the speed in a minute that counts, as a share, and trendSigmas how many standard
	// errors it must be off zero. Chosen: a warm idle changes by less than 1 % a minute, a cold one of the practice
	// engine by 3 % (measured).
	trendShare  = 0.02
	trendSigmas = 5.0
	// trendWarm is the part of trendShare below which a cold engine counts as warm, so that the word
	// doesn't flicker. Chosen.
	trendWarm = 0.8
)

// Trend is the least-squares line through the speed v of an idle that nobody disturbs, each cycle with a
// weight w that fades with trendMemory:
//
//	slope = Σw(t-mean t)(v-mean v) / Σw(t-mean t)²
type Trend struct {
	n      float64 // sum of the weights
	t0, v0 float64 // of the first cycle, from which t and v count
	// Sums of t, v and their products.
	st, sv, stt, stv, svv float64
	lastTime              float64
	warming               bool
}

// Push takes the speed of a cycle that ended at t, s; disturbed begins anew.
func (f *Trend) Push(t, rpm float64, disturbed bool) {
	if disturbed || f.n == 0 {
		*f = Trend{t0: t, v0: rpm}
	}
	x, y := t-f.t0, rpm-f.v0
	fade := math.Exp((f.lastTime - x) / trendMemory)
	f.lastTime = x
	f.n = fade*f.n + 1
	f.st = fade*f.st + x
	f.sv = fade*f.sv + y
	f.stt = fade*f.stt + x*x
	f.stv = fade*f.stv + x*y
	f.svv = fade*f.svv + y*y
	f.judge()
}

// Warming reports whether the speed changes as that of a cold engine does.
func (f *Trend) Warming() bool { return f.warming }

// judge tells from the line whether the engine is cold. What is unsure changes nothing.
func (f *Trend) judge() {
	if f.lastTime < trendSeconds {
		return
	}
	xx := f.stt - f.st*f.st/f.n
	xy := f.stv - f.st*f.sv/f.n
	yy := f.svv - f.sv*f.sv/f.n
	slope := math.Abs(xy / xx)
	// The scatter is correlated from cycle to cycle, as the crank has inertia:
	// taken as if a tenth of the cycles counted.
	slopeError := math.Sqrt(max(yy-slope*slope*xx, 0) / (f.n - 2) / xx * 10)
	switch share := slope * 60 / (f.v0 + f.sv/f.n); {
	case share > trendShare && slope > trendSigmas*slopeError:
		f.warming = true
	case share < trendWarm*trendShare:
		f.warming = false
	}
}

// Constants of the runners' warmth. A warmer runner refills faster, as the square root of its absolute temperature, so
// that the opening of a butterfly that no screw moves seems to grow. On the practice engine, while other screws are
// turned, it grows by 0.04 % a second from cold, and by less than 0.005 % when warm (measured).
const (
	// warmthSeconds is the length of a stretch of steady cycles, whose mean opening is
	// compared with that of the stretch before. Chosen.
	warmthSeconds = 8.0
	// warmthLeast is the share by which the mean must rise to count: 0.9 % a minute. A rise
	// above warmthMost is the throttle stop. Chosen: three times the scatter of the means.
	warmthLeast, warmthMost = 0.0012, 0.01
)

// Runners follow the opening of the cylinder that no screw moves.
type Runners struct {
	still int // that cylinder, from 1; 0 is none
	// Of the stretch under way: its cycles, its first opening, and the sum of all minus that.
	n          int
	first, sum float64
	seconds    float64 // its length so far
	before     float64 // mean of the stretch before; 0 is none
	rise       float64 // to that mean, as a share
	warming    bool
}

// NewRunners follows those of a bank.
func NewRunners(b *bank.Bank) (h Runners) {
	moved := func(c int) bool {
		for s := range b.Screws {
			if b.Moves(s, c) {
				return true
			}
		}
		return false
	}
	for c := 1; c <= b.Cylinders; c++ {
		if !moved(c) {
			h.still = c
		}
	}
	return h
}

// Restart begins anew, as after a standstill, or when the throttle stop is turned.
func (h *Runners) Restart() { *h = Runners{still: h.still} }

// Warming reports whether they grow warmer still.
func (h *Runners) Warming() bool { return h.warming }

// Push takes a cycle.
func (h *Runners) Push(s *cycle.Span, disturbed bool) {
	if h.still == 0 || disturbed || math.IsNaN(s.Opening[h.still-1]) {
		return
	}
	opening := s.Opening[h.still-1]
	if h.n == 0 {
		h.first = opening
	}
	h.n++
	h.sum += opening - h.first
	if h.seconds += s.Period; h.seconds < warmthSeconds {
		return
	}
	mean := h.first + h.sum/float64(h.n)
	rise := mean/h.before - 1
	if h.before == 0 || rise > warmthMost {
		rise = 0
	}
	switch {
	case rise > warmthLeast && h.rise > warmthLeast: // two, one after the other
		h.warming = true
	case rise+h.rise < warmthLeast:
		h.warming = false
	}
	h.rise, h.before, h.n, h.sum, h.seconds = rise, mean, 0, 0, 0
}
