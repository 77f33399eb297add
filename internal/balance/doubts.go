package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// Constants of what is no synchronising fault.
const (
	// drawPerLogOpening is how far a cylinder's draw falls, at nominalDraw, when its
	// butterfly opens by a factor e, kPa. Measured on the practice engine; with
	// it, draws and openings of sound cylinders agree to 0.5 kPa there, whose
	// runners differ by 2 % in volume.
	drawPerLogOpening = 16.3
	// doubtDraw is how far a cylinder's draw may stand off what its opening asks
	// for, beside the others, kPa. Chosen: three times that; worn rings with a
	// tight valve are 2.9 off (measured).
	doubtDraw = 1.5
	// doubtCycles is how many cycles that takes. Chosen: 2 s at idle.
	doubtCycles = 16
	// doubtMisfires is the share of misfires that is told, of at least
	// misfireCycles cycles and more than leastMisfires. Chosen.
	doubtMisfires = 0.04
	misfireCycles = 60.0
	leastMisfires = 4.0
	// misfireDraw is by how much less the cylinder draws after it. Chosen: half of what
	// the practice engine shows.
	misfireDraw = 0.5 // kPa
	// A cylinder counts as shut when its opening is below shutShare of what it was in
	// the first openCycles. Chosen.
	shutShare  = 0.95
	openCycles = 16
	// It fired well before it was shut when of soundExpected misfires at least that the
	// present share makes expected then, no more than soundShare came. Chosen: with the
	// same share before and after, 1 in 25 looks like that.
	soundExpected = 5.0
	soundShare    = 0.2
)

// doubts are the cylinders that look ill in a way that no synchronising screw
// mends.
type doubts struct {
	found, told [cycle.MaxCylinders]advice.Why
	misfires    [cycle.MaxCylinders]float64
	open        [cycle.MaxCylinders]whileOpen
	cycles      float64
	looked      bool    // draws and openings were held against each other, or could be
	since       float64 // when the one that is being told came up
	cylinder    int     // the one that is being told, 0 is none
}

// whileOpen is what a cylinder did before its butterfly was shut.
type whileOpen struct {
	opening          average // of its first cycles
	cycles, misfires float64
}

// push takes a cycle.
func (o *whileOpen) push(opening float64, misfire bool) {
	if o.opening.n < openCycles && !math.IsNaN(opening) {
		o.opening = o.opening.with(opening)
	}
	if o.opening.n > 0 && opening < shutShare*o.opening.mean() {
		return
	}
	o.cycles++
	if misfire {
		o.misfires++
	}
}

// sound reports whether it fired well then, beside the share of misfires of now.
func (o *whileOpen) sound(share float64) bool {
	expected := share * o.cycles
	return expected >= soundExpected && o.misfires <= soundShare*expected
}

// push counts the misfires of a cycle with those draws, of a steady speed; sagged tells that the speed
// shows one, whose cylinder is the one that draws less than it did.
func (d *doubts) push(s *cycle.Span, draw *perCylinder, w *window, sagged, steady bool) {
	if !steady { // a blip is no misfire
		return
	}
	keep := 1 - 1/(2*misfireCycles)
	d.cycles = d.cycles*keep + 1
	for c := range s.N {
		d.misfires[c] *= keep
		switch {
		case !Sound(s.State[c]): // a hose that comes off looks like misfires at first
			d.misfires[c], d.found[c] = 0, d.told[c]
		case s.Misfire[c]:
			d.misfires[c]++
		}
	}
	sick := -1
	if sagged && w.cycles() >= recent {
		sick = drewLess(draw, s, w)
	}
	if sick >= 0 && !s.Misfire[sick] {
		d.misfires[sick]++
	}
	for c := range s.N {
		d.open[c].push(s.Opening[c], s.Misfire[c] || c == sick)
	}
}

// drewLess returns the index of the cylinder that draws less than it did, by more than
// misfireDraw and the most; -1 if none does.
func drewLess(draw *perCylinder, s *cycle.Span, w *window) int {
	now := w.level(draw, (*perCylinder)(&s.Opening))
	then := w.meanLevel(w.first, w.next)
	least := 0
	for c := range s.N {
		if now[c]-then[c] < now[least]-then[least] {
			least = c
		}
	}
	if then[least]-now[least] > misfireDraw {
		return least
	}
	return -1
}

// look finds what is ill: misfires, weak pulses, draws that are not what the openings ask
// for, by more than the sensors' offsets may do, blind.
func (d *doubts) look(r *Reading, w *window, blind pressure.KPa) {
	n := len(r.Cylinders)
	if d.cycles >= misfireCycles {
		for c := range n {
			if d.found[c] != advice.WhyLean && d.misfires[c] > max(doubtMisfires*d.cycles, leastMisfires) {
				d.found[c] = advice.WhyMisfires
				if o := &d.open[c]; o.sound(d.misfires[c]/d.cycles) && r.Span.Opening[c] < shutShare*o.opening.mean() {
					d.found[c] = advice.WhyLean
				}
			}
		}
	}
	for c := range n {
		if r.Cylinders[c].State == cycle.WeakPulse && d.found[c] == "" {
			d.found[c] = advice.WhyWeakPulse
		}
	}
	if r.Cycles < doubtCycles {
		return
	}
	d.looked = true
	var off perCylinder
	mean := 0.0
	for c := range n {
		mean += float64(r.Cylinders[c].Draw) / float64(n)
	}
	for c := range n {
		cyl := &r.Cylinders[c]
		if !(cyl.OpeningUncertainty < doubtDraw/drawPerLogOpening/3) {
			return // an unknown opening says nothing
		}
		off[c] = float64(cyl.Draw)*nominalDraw/max(mean, leastMean) + drawPerLogOpening*math.Log(cyl.Opening)
	}
	if c := oddOne(off[:n], doubtDraw+float64(blind)); c >= 0 && d.found[c] == "" {
		d.found[c] = advice.WhyDisagree
	}
}

// oddOne returns the index of the figure that stands off the middle of the others
// by more than least, the farthest; of two the lower; -1 if none does.
func oddOne(off []float64, least float64) int {
	odd, most := -1, least
	for c := range off {
		var others perCylinder
		n := 0
		for o := range off {
			if o != c {
				others[n] = off[o]
				n++
			}
		}
		if away := middle(others[:n]) - off[c]; away > most || n > 1 && -away > most {
			odd, most = c, math.Abs(away)
		}
	}
	return odd
}

// middle returns the median of up to a handful of figures.
func middle(v []float64) float64 {
	for i := range v { // few: insertion
		for j := i; j > 0 && v[j] < v[j-1]; j-- {
			v[j], v[j-1] = v[j-1], v[j]
		}
	}
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

// tell tells of a doubt for a while, once each.
func (d *doubts) tell(r *Reading, w *window) (adv advice.Advice, stop bool) {
	if d.cylinder > 0 && w.now()-d.since < tellSeconds && d.told[d.cylinder-1] != d.found[d.cylinder-1] {
		return faultOf(d.cylinder, d.found[d.cylinder-1]), true
	}
	if d.cylinder > 0 {
		d.told[d.cylinder-1] = d.found[d.cylinder-1]
		d.cylinder = 0
	}
	for c := range r.Cylinders {
		if d.found[c] != d.told[c] {
			d.cylinder, d.since = c+1, w.now()
			return faultOf(d.cylinder, d.found[c]), true
		}
	}
	return adv, false
}
