package cycle

import (
	"math/bits"
	"slices"

	"evendraw/internal/pressure"
)

// Limits of the health of a channel.
const (
	// railShare of a span's samples on a rail call the channel so.
	railShare = 0.5
	// noRipple is the swing below which a channel has no pulse, and noiseSwing
	// the same in standard deviations of the samples' noise. Chosen: noise of a
	// sensor and 10 bits swings by 0.5 kPa, six deviations, in a cycle.
	noRipple   pressure.KPa = 0.8
	noiseSwing pressure.KPa = 8 // times a pressure
	// weakShare of the median swing of the cylinders is a weak pulse, and it
	// stays one up to weakStays. Chosen: hoses of one set differ by a factor of
	// two at most.
	weakShare = 0.25
	weakStays = 0.3
	// nearAmbient is how near to ambient a hose that is off reads. Chosen:
	// the sensors' error band and one more.
	nearAmbient pressure.KPa = 3
	// holdSeconds is how long a state must last before it is told. Chosen: the
	// demand is 2 s, one odd cycle is no state.
	holdSeconds = 0.6
)

// health judges each channel of a span.
type health struct {
	ambient   pressure.KPa
	n         int
	samples   int
	noise     [MaxCylinders]pressure.KPa // standard deviation of samples
	low, high [MaxCylinders]int          // samples on a rail
	told      [MaxCylinders]State
	next      [MaxCylinders]State // what it looks like, and since when
	since     [MaxCylinders]float64
}

func (h *health) begin() { h.low, h.high = [MaxCylinders]int{}, [MaxCylinders]int{} }

// count takes the samples' rails.
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
		s.State[c] = h.tell(c, h.looks(s, c, typical), s)
	}
}

// looks returns the state that a span by itself looks like.
func (h *health) looks(s *Span, c int, typical pressure.KPa) State {
	enough := railShare * float64(h.samples)
	ripple, off := s.Ripple(c+1), s.Mean[c]-h.ambient
	still := ripple < max(noRipple, noiseSwing*h.noise[c])
	weak := pressure.KPa(weakShare)
	if h.told[c] == WeakPulse {
		weak = weakStays
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

// tell returns the state that is told: a new one must last.
func (h *health) tell(c int, looks State, s *Span) State {
	switch {
	case h.told[c] == "":
		h.told[c] = looks
	case looks == h.told[c]:
	case looks != h.next[c]:
		h.since[c] = s.Start
	case s.End()-h.since[c] >= holdSeconds:
		h.told[c] = looks
	}
	h.next[c] = looks
	return h.told[c]
}

// typicalRipple returns the median, the upper one of two, of the swings that
// are a pulse at all.
func typicalRipple(ripples []pressure.KPa) pressure.KPa {
	var sorted [MaxCylinders]pressure.KPa
	n := 0
	for _, r := range ripples {
		if r >= noRipple {
			sorted[n] = r
			n++
		}
	}
	slices.Sort(sorted[:n])
	return sorted[n/2]
}
