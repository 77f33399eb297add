package touched

import (
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// Of a throttle stop that is touched while a pilot screw is trimmed. The pace at which runners refill goes with their
// butterflies' area, and hardly with what burns. Measured on the practice engine: its logarithm scatters by 0.0011 from
// cycle to cycle and moves by 0.0008 where a pilot screw makes the idle 100 rpm slower; a sixteenth of a turn of the
// throttle stop moves it by 0.019 and the idle by 10 to 17 rpm.
const (
	// touchShare is by which share all other cylinders' pace must have changed to show a touch, touchSigmas how many
	// standard deviations that must be. Chosen: some 9 rpm.
	touchShare, touchSigmas = 0.012, 6.0
	// touchCycles are the cycles that it is seen from, touchMemory those that the pace before is known from at most.
	touchCycles, touchMemory = 8, 80
)

// Paces are the logarithms of how fast runners refill, which tell whether the throttle stop is touched.
type Paces struct {
	mean, square [bank.MaxCylinders]float64 // of the cycles before the last touchCycles: mean, and variance
	n            [bank.MaxCylinders]int
	last         [touchCycles][bank.MaxCylinders]float64
	next         int // cycles so far
	// Since is when a touch that shows began, s; by is by how much so far, still for how many cycles no further.
	Since, by float64
	still     int
}

// keep keeps a steady cycle's paces.
func (p *Paces) keep(span *cycle.Span) {
	at := &p.last[p.next%touchCycles]
	if p.next++; p.next > touchCycles {
		for c := range span.N {
			if v := at[c]; !math.IsNaN(v) && p.Since == 0 {
				if p.n[c] == 0 {
					p.mean[c] = v
				}
				p.n[c] = min(p.n[c]+1, touchMemory)
				off := v - p.mean[c]
				p.mean[c] += off / float64(p.n[c])
				p.square[c] += (off*off - p.square[c]) / float64(p.n[c])
			}
		}
	}
	for c := range at {
		if at[c] = math.NaN(); c < span.N && span.Refill[c] > 0 {
			at[c] = math.Log(span.Refill[c])
		}
	}
}

// moved returns by how much the mean logarithm of all cylinders but one has changed in the last cycles, and whether
// that is surely a touch.
func (p *Paces) moved(but int) (by float64, sure bool) {
	var sum, v float64
	n := 0
	for c := range p.mean {
		if c == but-1 || p.n[c] < 2*touchCycles {
			continue
		}
		is := 0.0
		for k := range p.last {
			is += p.last[k][c] / touchCycles
		}
		if math.IsNaN(is) {
			continue
		}
		sum, v, n = sum+is-p.mean[c], v+p.square[c]/touchCycles, n+1
	}
	by = sum / float64(n)
	return by, n > 0 && math.Abs(by) > touchShare && by*by > touchSigmas*touchSigmas*v/float64(n*n)
}

// Push takes a steady cycle. It returns by which share all runners but that of one cylinder refill faster since the
// throttle stop was touched, once that is over; else 0.
func (p *Paces) Push(span *cycle.Span, but int) float64 {
	p.keep(span)
	by, sure := p.moved(but)
	switch {
	case !sure:
		p.Since = 0
		return 0
	case p.Since == 0:
		p.Since = span.End() - touchCycles*span.Period
		fallthrough
	case math.Abs(by-p.by) > touchShare/2: // it is still turned
		p.by, p.still = by, 0
		return 0
	}
	if p.still++; p.still < touchCycles {
		return 0
	}
	*p = Paces{Since: p.Since}
	return by
}
