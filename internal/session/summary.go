package session

import (
	"math"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// Bins of the speed's distribution: half an rpm each.
const (
	rpmPerBin = 0.5
	rpmBins   = 40000
)

// Summary gathers a whole run in memory that does not grow.
type Summary struct {
	Cycles    int
	Reference int

	n         int
	seconds   float64
	rpm       [rpmBins]int32
	draw      [cycle.MaxCylinders]balance.Series
	diff      [cycle.MaxCylinders]balance.Series
	ripple    [cycle.MaxCylinders]balance.Series
	dip       [cycle.MaxCylinders]pressure.KPa
	states    [cycle.MaxCylinders]map[cycle.State]float64 // seconds
	ambientOf func() pressure.KPa
}

// NewSummary returns an empty summary. ambient is asked for the air pressure
// that draws count from.
func NewSummary(ambient func() pressure.KPa) *Summary { return &Summary{ambientOf: ambient} }

// Push adds a reading's last span.
func (s *Summary) Push(r *balance.Reading) {
	span := &r.Span
	s.n, s.Reference = span.N, r.Reference
	s.seconds += span.Period
	for c := range span.N {
		if s.states[c] == nil {
			s.states[c] = map[cycle.State]float64{}
		}
		s.states[c][span.State[c]] += span.Period
	}
	if !span.Cycle {
		return
	}
	s.Cycles++
	s.rpm[min(max(int(span.RPM()/rpmPerBin), 0), rpmBins-1)]++
	if span.Gap {
		return
	}
	ambient := s.ambientOf()
	for c := range span.N {
		s.draw[c].Push(float64(ambient - span.Mean[c]))
		s.diff[c].Push(float64(span.Mean[r.Reference-1] - span.Mean[c]))
		s.ripple[c].Push(float64(span.Ripple(c + 1)))
		if s.draw[c].N() == 1 || span.Lowest[c] < s.dip[c] {
			s.dip[c] = span.Lowest[c]
		}
	}
}

// RPM returns the speed below which the given share of the cycles lie, NaN
// without cycles.
func (s *Summary) RPM(share float64) float64 {
	want := share * float64(s.Cycles)
	seen := 0.0
	for i, n := range s.rpm {
		if n > 0 && seen+float64(n) >= want {
			return rpmPerBin * (float64(i) + (want-seen)/float64(n))
		}
		seen += float64(n)
	}
	return math.NaN()
}

// CylinderSummary is a cylinder's part of a Summary. Unknown figures are NaN.
type CylinderSummary struct {
	Cylinder, Channel                     int
	Draw, Uncertainty, Difference, Ripple pressure.KPa
	// Dip is the vacuum at the lowest pressure of any cycle.
	Dip pressure.KPa
	// States holds each state's share of the time.
	States map[cycle.State]float64
}

// Cylinders returns the cylinders' parts; b says which channel each is on.
func (s *Summary) Cylinders(b *bank.Bank) []CylinderSummary {
	out := make([]CylinderSummary, 0, s.n)
	for c := range s.n {
		nan := pressure.KPa(math.NaN())
		cs := CylinderSummary{Cylinder: c + 1, Channel: b.Channels[c], Draw: nan, Uncertainty: nan, Difference: nan,
			Ripple: nan, Dip: nan, States: map[cycle.State]float64{}}
		if s.draw[c].N() > 0 {
			cs.Draw = pressure.KPa(s.draw[c].Mean())
			cs.Uncertainty = s.diff[c].HalfWidth()
			cs.Difference = pressure.KPa(s.diff[c].Mean())
			cs.Ripple = pressure.KPa(s.ripple[c].Mean())
			cs.Dip = s.ambientOf() - s.dip[c]
		}
		for state, seconds := range s.states[c] {
			cs.States[state] = seconds / s.seconds
		}
		out = append(out, cs)
	}
	return out
}

// Spread returns the largest minus the smallest mean draw, NaN without cycles.
func (s *Summary) Spread() pressure.KPa {
	low, high := math.Inf(1), math.Inf(-1)
	for c := range s.n {
		if s.draw[c].N() > 0 {
			low, high = min(low, s.draw[c].Mean()), max(high, s.draw[c].Mean())
		}
	}
	if low > high {
		return pressure.KPa(math.NaN())
	}
	return pressure.KPa(high - low)
}
