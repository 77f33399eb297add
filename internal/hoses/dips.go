package hoses

import (
	"math"
	"slices"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// Dips gathers where in the cycle each cylinder dips, relative to the first, so that the order of the pulses can be
// held against the firing order. The zero value is empty.
type Dips struct {
	cycles   int
	sin, cos [bank.MaxCylinders]float64 // sums over the last cycles
	late     [bank.MaxCylinders]float64 // the hoses' lags, degrees of crank, NaN where unknown
}

// memory is how many cycles the sums remember: hoses may be put right while the engine runs. Chosen.
const memory = 48.0

// Cycles is how many cycles a verdict needs. Chosen: about a second at idle.
const Cycles = 10

// Constants of pulses that plainly come at other angles than the card's.
const (
	// plainCycles is how many cycles it takes, and plainSteady how steady the angles must be: 1 is the same in all
	// cycles, 0.99 scatters by 16 degrees of crank (derived). Chosen: seven seconds.
	plainCycles = 60
	plainSteady = 0.99
	// plainOff is how far they lie off the best order of the card beyond what the hoses' lags explain, degrees of crank
	// rms. Derived: a twin that fires a quarter turn off the card lies 45 off; hoses whose lengths differ by 1 m 9.
	plainOff = maxOrderOff
)

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
		d.late[c] = s.Lag[c] / s.Period * bank.CycleDegrees
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
	out := PulseOrder(dips, firing)
	if first := b.FiringOrder[0] - 1; d.plain(b.Cylinders, out.Off) {
		for _, p := range dips {
			p -= dips[first]
			out.Angles = append(out.Angles, bank.CycleDegrees*(p-math.Floor(p)))
		}
	}
	return out
}

// plain reports whether n pulses, that lie so far off the card's best order, plainly come at other angles.
func (d *Dips) plain(n int, off float64) bool {
	if d.cycles < plainCycles {
		return false
	}
	whole := memory * (1 - math.Pow(1-1/memory, float64(d.cycles)))
	for c := range n {
		if math.Hypot(d.sin[c], d.cos[c]) < plainSteady*whole {
			return false
		}
	}
	apart := slices.Max(d.late[:n]) - slices.Min(d.late[:n])
	return off-apart/2 > plainOff // never of lags that are unknown
}
