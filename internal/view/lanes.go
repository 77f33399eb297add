package view

import (
	"fmt"
	"math"
	"slices"

	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/suspects"
)

// Lane is what is shown of one cylinder.
type Lane struct {
	Label string // "1"
	// Draw is the draw in the chosen unit, and Difference the signed
	// difference from the reference with its uncertainty.
	Draw, Difference string
	// At is where the marker stands, -1 to 1 from the left to the right end of the lane, 0 being the reference; Half
	// is half the uncertainty's width. Shown is false when there is no marker.
	At, Half  float64
	Shown     bool
	Reference bool
	// Idle is where the cylinder stood at idle, beside a raised speed; WithIdle is set where it is known.
	Idle     float64
	WithIdle bool
	// Trace is where the marker stood in the last half minute, evenly in time, the
	// newest last; NaN where it was not shown. Nil on the reference's lane.
	Trace []float64
	// Fault says what is wrong with the channel, "" when nothing is.
	Fault string
	Role  Role
}

// scales are the ends that lanes can have, in kPa. Chosen: each about twice the last, so that a scale rarely changes.
var scales = []pressure.KPa{1, 2, 5, 10, 20, 50}

// lanes fills in the part of the picture that shows each cylinder.
func (v *View) lanes(p *Picture, r *balance.Reading, blank bool) {
	if r == nil {
		return
	}
	r = v.compared(r)
	scale := v.scale(r)
	u := v.Unit
	p.Unit = u.Name
	p.Left = fmt.Sprintf("−%s ◂ less vacuum", u.Format(scale))
	if p.Middle = "the bank's mean"; !v.ByMean {
		p.Middle = fmt.Sprintf("cylinder %d", r.Reference)
	}
	p.Right = fmt.Sprintf("more vacuum ▸ +%s", u.Format(scale))
	p.Band = float64(v.Aim / scale)
	p.Limit = float64(v.Limit / scale)
	for i := range r.Cylinders {
		l := v.lane(&r.Cylinders[i], r, scale, blank)
		if !blank && !l.Reference {
			v.markIdle(&l, i, r.Reference-1, scale)
		}
		if s := v.raised(); s != nil && s.Done { // the draw of now is of neither look
			l.Draw = ""
		}
		if !l.Reference && !blank {
			for _, d := range v.hills.Of(i) {
				l.Trace = append(l.Trace, min(max(float64(d)/float64(scale), -1), 1))
			}
		}
		p.Lanes = append(p.Lanes, l)
	}
}

// compared returns the reading with the differences that are shown: from the reference, or from the mean of the
// cylinders that can be compared. As the parts of a draw's interval are not known apart, that from the mean is up to
// √2 too wide (derived, for cylinders that scatter alike).
func (v *View) compared(r *balance.Reading) *balance.Reading {
	if !v.ByMean {
		return r
	}
	m := *r
	m.Cylinders = slices.Clone(r.Cylinders)
	n, mean, own, squares := 0.0, pressure.KPa(0), pressure.KPa(0), pressure.KPa(0)
	for i := range r.Cylinders {
		if c := &r.Cylinders[i]; !math.IsNaN(float64(c.Difference)) {
			n++
			mean += c.Draw
			own, squares = max(own, c.Uncertainty), squares+c.Uncertainty*c.Uncertainty
		}
	}
	for i := range m.Cylinders {
		c := &m.Cylinders[i]
		if math.IsNaN(float64(c.Difference)) {
			continue
		}
		u := c.Uncertainty
		if c.Cylinder == r.Reference { // its own is that of nothing: taken to be the widest of the others'
			u = own
		}
		c.Difference = c.Draw - mean/pressure.KPa(n)
		others := float64(squares - c.Uncertainty*c.Uncertainty)
		c.Uncertainty = pressure.KPa(math.Sqrt(float64(u*u)*(n-1)*(n-1)+others) / n)
	}
	m.Reference = 0
	return &m
}

// raised returns the look at the raised speed once the bank has been read at idle, nil before.
func (v *View) raised() *raised.State {
	s := v.snap().Tune.Raised
	if v.Flow.Off || v.Flow.At != StepRaised || s == nil || s.Idle.Cycles == 0 {
		return nil
	}
	return s
}

// markIdle gives the lane of cylinder i + 1 a second mark in the look at a raised speed: where it stood at
// idle. Once the look is done the first is where it stood at the raised speed.
func (v *View) markIdle(l *Lane, i, reference int, scale pressure.KPa) {
	s := v.raised()
	if s == nil || i >= s.Cylinders || reference >= s.Cylinders {
		return
	}
	at := func(d pressure.KPa) float64 { return min(max(float64(d/scale), -1), 1) }
	idle, raised := s.Idle.Off[i], s.Raised.Off[i] // from the mean
	if !v.ByMean {
		idle, raised = idle-s.Idle.Off[reference], raised-s.Raised.Off[reference]
	}
	l.Idle, l.WithIdle = at(idle), true
	if s.Done {
		l.At, l.Half, l.Shown, l.Role = at(raised), 0, true, v.grade(raised)
		l.Difference = v.Unit.FormatSigned(raised) + " ◇" + v.Unit.FormatSigned(idle)
	}
}

// scale returns the smallest scale that holds every difference.
func (v *View) scale(r *balance.Reading) pressure.KPa {
	most := v.Limit
	for i := range r.Cylinders {
		if d := r.Cylinders[i].Difference; !math.IsNaN(float64(d)) {
			most = max(most, d, -d)
		}
	}
	if s := v.raised(); s != nil && s.Done {
		most = max(most, s.Idle.Spread, s.Raised.Spread)
	}
	return LaneScale(most)
}

// LaneScale is the smallest scale of a lane that holds so large a difference, else the largest.
func LaneScale(most pressure.KPa) pressure.KPa {
	i, _ := slices.BinarySearch(scales, most)
	return scales[min(i, len(scales)-1)]
}

func (v *View) lane(c *balance.Cylinder, r *balance.Reading, scale pressure.KPa, blank bool) Lane {
	l := Lane{Label: fmt.Sprint(c.Cylinder), Draw: plain.Dash, Difference: plain.Dash,
		Reference: c.Cylinder == r.Reference}
	if blank {
		l.Role = Dim
		return l
	}
	// At standstill every channel is without a pulse: no fault, just no cycle.
	if f := suspects.States[c.State]; f != "" && (r.Span.Cycle || c.State != cycle.NoPulse) {
		l.Fault, l.Role = f, Bad
	}
	l.Draw = v.Unit.Format(c.Draw)
	if math.IsNaN(float64(c.Difference)) {
		return l
	}
	l.Shown = true
	l.At = min(max(float64(c.Difference/scale), -1), 1)
	if !math.IsNaN(float64(c.Uncertainty)) {
		l.Half = min(float64(c.Uncertainty/scale), 2)
	}
	if l.Reference {
		l.Difference = "reference"
		return l
	}
	l.Difference = v.Unit.FormatSigned(c.Difference)
	if !math.IsNaN(float64(c.Uncertainty)) {
		l.Difference += " ±" + v.Unit.FormatUncertainty(c.Uncertainty)
	}
	if l.Fault == "" {
		l.Role = v.grade(c.Difference)
	}
	return l
}

// grade returns the role of a difference: within the aim, within the limit, or beyond.
func (v *View) grade(d pressure.KPa) Role {
	switch d = max(d, -d); {
	case d <= v.Aim:
		return Good
	case d <= v.Limit:
		return Plain
	}
	return Warn
}
