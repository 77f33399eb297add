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
	// noRipple is the swing below which a channel has no pulse. Chosen: noise
	// of a sensor and 10 bits swings by 0.6 kPa.
	noRipple pressure.KPa = 1.0
	// weakShare of the median swing of the cylinders is a weak pulse. Chosen:
	// hoses of one set differ by a factor of two at most.
	weakShare = 0.25
	// nearAmbient is how near to ambient a hose that is off reads. Chosen:
	// the sensors' error band and one more.
	nearAmbient pressure.KPa = 3
)

// health judges each channel of a span.
type health struct {
	ambient   pressure.KPa
	n         int
	samples   int
	low, high [MaxCylinders]int // samples on a rail
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
	enough := railShare * float64(h.samples)
	for c := range h.n {
		off := s.Mean[c] - h.ambient
		switch {
		case float64(h.low[c]) > enough:
			s.State[c] = RailLow
		case float64(h.high[c]) > enough:
			s.State[c] = RailHigh
		case ripples[c] < noRipple && s.Cycle && off < nearAmbient && off > -nearAmbient:
			s.State[c] = Ambient
		case ripples[c] < noRipple:
			s.State[c] = NoPulse
		case s.Cycle && ripples[c] < pressure.KPa(weakShare)*typical:
			s.State[c] = WeakPulse
		default:
			s.State[c] = OK
		}
	}
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
