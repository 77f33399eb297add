package cycle

import (
	"math/bits"
	"slices"

	"evendraw/internal/pressure"
)

// Limits of the health of a channel.
const (
	// railShare is the share of a span's samples on a rail from which on the channel is.
	railShare = 0.5
	// minRipple is the smallest swing of a pulse, and minRippleSDs the same in standard
	// deviations of the samples' noise. Chosen: noise of a sensor and 10 bits
	// swings by 0.5 kPa, six deviations, in a cycle.
	minRipple    pressure.KPa = 0.8
	minRippleSDs pressure.KPa = 8
	// A pulse is weak below weakShare of the median swing of the cylinders, and stays
	// weak up to weakUntil. Chosen: hoses of one set differ by a factor of two at most.
	weakShare = 0.25
	weakUntil = 0.3
	// nearAmbient is how near to ambient a hose that is off reads. Chosen: the error
	// band of the sensors, twice.
	nearAmbient pressure.KPa = 3
	// holdSeconds is how long a state must last before it is reported. Chosen: it may
	// take 2 s, and one odd cycle is no state.
	holdSeconds = 0.6
)

// health judges each channel of a span.
type health struct {
	ambient   pressure.KPa
	n         int
	samples   int
	noise     [MaxCylinders]pressure.KPa // standard deviation of samples
	low, high [MaxCylinders]int          // samples on a rail
	reported  [MaxCylinders]State
	candidate [MaxCylinders]State // what it looks like, and since when
	since     [MaxCylinders]float64
}

func (h *health) begin() { h.low, h.high = [MaxCylinders]int{}, [MaxCylinders]int{} }

// count counts the samples on a rail.
func (h *health) count(k *history, from, to int) {
	h.samples = to - from + 1
	for i := from; i <= to; i++ {
		flags := k.flags[i&k.mask] &^ gapFlag
		for flags != 0 {
			b := bits.TrailingZeros32(flags)
			flags &= flags - 1
			if b < railHighShift {
				h.low[b]++
			} else {
				h.high[b-railHighShift]++
			}
		}
	}
}

// judge sets the state of each cylinder of the span.
func (h *health) judge(s *Span) {
	var ripples [MaxCylinders]pressure.KPa
	for c := range h.n {
		ripples[c] = s.Ripple(c + 1)
	}
	typical := typicalRipple(ripples[:h.n])
	for c := range h.n {
		s.State[c] = h.report(c, h.stateOf(s, c, typical), s)
	}
}

// stateOf returns the state that a span by itself looks like.
func (h *health) stateOf(s *Span, c int, typical pressure.KPa) State {
	enough := railShare * float64(h.samples)
	ripple, off := s.Ripple(c+1), s.Mean[c]-h.ambient
	still := ripple < max(minRipple, minRippleSDs*h.noise[c])
	weak := pressure.KPa(weakShare)
	if h.reported[c] == WeakPulse {
		weak = weakUntil
	}
	switch {
	case float64(h.low[c]) > enough:
		return RailLow
	case float64(h.high[c]) > enough:
		return RailHigh
	case still && s.Cycle && off < nearAmbient && off > -nearAmbient:
		return Ambient
	case still:
		return NoPulse
	case s.Cycle && ripple < weak*typical:
		return WeakPulse
	}
	return OK
}

// report returns the state to report: a new one must last for holdSeconds.
func (h *health) report(c int, looks State, s *Span) State {
	switch {
	case h.reported[c] == "":
		h.reported[c] = looks
	case looks == h.reported[c]:
	case looks != h.candidate[c]:
		h.since[c] = s.Start
	case s.End()-h.since[c] >= holdSeconds:
		h.reported[c] = looks
	}
	h.candidate[c] = looks
	return h.reported[c]
}

// typicalRipple returns the median, the upper one of two, of the swings that
// are a pulse at all.
func typicalRipple(ripples []pressure.KPa) pressure.KPa {
	var sorted [MaxCylinders]pressure.KPa
	n := 0
	for _, r := range ripples {
		if r >= minRipple {
			sorted[n] = r
			n++
		}
	}
	slices.Sort(sorted[:n])
	return sorted[n/2]
}
