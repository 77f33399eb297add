package hoses

import (
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// Dips gathers where in the cycle each cylinder dips, relative to the first, so that the order of the pulses can be
// held against the firing order. The zero value is empty.
type Dips struct {
	cycles   int
	sin, cos [bank.MaxCylinders]float64 // sums over the last cycles
}

// memory is how many cycles the sums remember: hoses may be put right while the engine runs. Chosen.
const memory = 48.0

// Cycles is how many cycles a verdict needs. Chosen: about a second at idle.
const Cycles = 10

// Push adds a cycle. Cycles in which a channel is not sound count nothing.
func (d *Dips) Push(s *cycle.Span) {
	if !s.Cycle || !s.Whole() {
		return
	}
	for c := range s.N {
		if s.State[c] != cycle.OK {
			return
		}
	}
	d.cycles++
	for c := range s.N {
		sin, cos := math.Sincos(2 * math.Pi * (s.DipAt[c] - s.DipAt[0]))
		d.sin[c] += sin - d.sin[c]/memory
		d.cos[c] += cos - d.cos[c]/memory
	}
}

// Count returns how many sound cycles were pushed.
func (d *Dips) Count() int { return d.cycles }

// Order holds the mean dips against the bank's firing order. Before enough cycles it can't tell.
func (d *Dips) Order(b *bank.Bank) Order {
	dips, firing := make([]float64, b.Cylinders), make([]float64, b.Cylinders)
	for c := range b.Cylinders {
		dips[c] = math.NaN()
		if d.cycles >= Cycles {
			dips[c] = math.Atan2(d.sin[c], d.cos[c]) / (2 * math.Pi)
		}
		firing[c] = b.FiringAngle(c + 1)
	}
	return PulseOrder(dips, firing)
}
