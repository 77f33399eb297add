package balance

import (
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/hoses"
)

// Hoses gathers where in the cycle each cylinder dips, relative to the first, so that the order of the pulses can be
// held against the firing order. The zero value is empty.
type Hoses struct {
	cycles   int
	sin, cos perCylinder // sums over the last cycles
}

// hoseMemory is how many cycles the sums remember: hoses may be put right while the engine runs. Chosen.
const hoseMemory = 48.0

// hoseCycles is how many cycles a verdict needs. Chosen: about a second at idle.
const hoseCycles = 10

// Push adds a cycle. Cycles in which a channel is not sound count nothing.
func (h *Hoses) Push(s *cycle.Span) {
	if !s.Cycle || !s.Whole() {
		return
	}
	for c := range s.N {
		if s.State[c] != cycle.OK {
			return
		}
	}
	h.cycles++
	for c := range s.N {
		sin, cos := math.Sincos(2 * math.Pi * (s.DipAt[c] - s.DipAt[0]))
		h.sin[c] += sin - h.sin[c]/hoseMemory
		h.cos[c] += cos - h.cos[c]/hoseMemory
	}
}

// Order holds the mean dips against the bank's firing order. Before enough cycles it can't tell.
func (h *Hoses) Order(b *bank.Bank) hoses.Order {
	dips, firing := make([]float64, b.Cylinders), make([]float64, b.Cylinders)
	for c := range b.Cylinders {
		dips[c] = math.NaN()
		if h.cycles >= hoseCycles {
			dips[c] = math.Atan2(h.sin[c], h.cos[c]) / (2 * math.Pi)
		}
		firing[c] = b.FiringAngle(c + 1)
	}
	return hoses.PulseOrder(dips, firing)
}
