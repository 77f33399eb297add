// Package hills keeps what is drawn at the right of each lane: a cylinder's difference in the last half minute.
package hills

import (
	"math"

	"evendraw/internal/balance"
)

// Seconds is how long is remembered, a point every half second.
const (
	Seconds = 30
	step    = 0.5
	points  = int(Seconds / step)
	most    = 8 // cylinders
)

// Hills are the differences of the last half minute. The zero value remembers nothing; a copy is a state of its own.
type Hills struct {
	time      float64 // of the newest point, s of the stream
	reference int
	begun     bool
	kpa       [most][points]float32
}

// Push takes a reading when the next point is due. It begins anew with another reference, or after a gap.
func (h *Hills) Push(r *balance.Reading) {
	if !h.begun || r.Reference != h.reference || r.Time < h.time || r.Time > h.time+Seconds {
		h.begun, h.reference, h.time = true, r.Reference, r.Time-step
		for c := range h.kpa {
			for i := range h.kpa[c] {
				h.kpa[c][i] = float32(math.NaN())
			}
		}
	}
	for ; h.time+step <= r.Time; h.time += step {
		for c := range h.kpa {
			k := &h.kpa[c]
			copy(k[:], k[1:])
			k[points-1] = float32(math.NaN())
			if c < len(r.Cylinders) && r.Span.Cycle {
				k[points-1] = float32(r.Cylinders[c].Difference)
			}
		}
	}
}

// Of returns the differences of the cylinder with index c, kPa, the newest last, NaN where they were unknown; none
// where nothing is remembered.
func (h *Hills) Of(c int) []float32 {
	if !h.begun || c >= len(h.kpa) {
		return nil
	}
	return h.kpa[c][:]
}
