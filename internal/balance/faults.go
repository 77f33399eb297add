package balance

import (
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// Constants of what is no synchronising fault.
const (
	// drawPerLogOpening is how far a cylinder's draw falls, at nominalDraw, when its butterfly opens by a factor e,
	// kPa. Measured on the practice engine; with it, draws and openings of sound cylinders agree to 0.5 kPa there,
	// whose runners differ by 2 % in volume.
	drawPerLogOpening = 16.3
	// drawBend is what is left of a draw then, by the square of how far it is from the mean of all, 1/kPa. Measured on
	// 60 practice engines whose cylinders stood up to 13 kPa apart; without it three of 100 such were told to disagree.
	drawBend = 0.022
	// mostMisfit is how far a cylinder's draw may be from the draw that its opening asks for, compared with the others,
	// kPa, and by what share of what it stands apart more than that: engines differ in how much a draw falls. Chosen:
	// three times those 0.5 kPa; worn rings with a tight valve are 2.9 off (measured). Measured on an engine of another
	// model, sound cylinders that stand 5 and 9 kPa apart are 2.8 and 3.9 off.
	mostMisfit, misfitShare = 1.5, 0.3
	// misfitCycles is how many cycles it takes to see a misfit, staysMisfit in how many in a row it must be. Chosen: 2
	// and 4.5 s at idle. Measured on 461 recordings of that engine: a lag that is known badly for a while had 144 with
	// a sound cylinder told when it was enough to be seen once, by mostMisfit alone; with both 9. With 72 cycles 5, but
	// worn rings were then level before they were told.
	misfitCycles, staysMisfit = 16, 40
	// A cylinder misfires often when more than leastMisfires, and more than misfireShare
	// of at least misfireCycles cycles, were misfires. Chosen.
	misfireShare  = 0.04
	misfireCycles = 60.0
	leastMisfires = 4.0
	// A cylinder that misfired in more than deadShare of about the last deadCycles does not fire.
	// Chosen: one that misfires often fires more than half of the time.
	deadShare  = 0.8
	deadCycles = 8.0
	// sureMisfires are enough however few the cycles. Chosen: a second of a dead cylinder.
	sureMisfires = 6.0
	// A cylinder counts as shut when its opening is below shutShare of what it was in the first openCycles. Chosen.
	shutShare  = 0.95
	openCycles = 16
	// leastShut is the least that a screw must have raised its cylinders' draws for them to count as shut by it.
	// Derived: what shutShare does by drawPerLogOpening.
	leastShut = 0.8 // kPa
	// A cylinder fired well before it was shut when the present share of misfires makes
	// soundExpected or more of them expected for that time, and no more than soundShare of
	// these came. Chosen: with the same share before and after, 1 in 25 looks like that.
	soundExpected = 5.0
	soundShare    = 0.2
	// Or when noneExpected were and none came, which is as seldom by chance. Derived: e to the minus 3.2.
	noneExpected = 3.2
)

// cylinderFaults finds the cylinders that look ill in a way that no synchronising screw mends, and has each told once.
type cylinderFaults struct {
	found, told [cycle.MaxCylinders]advice.Why
	misfires    [cycle.MaxCylinders]float64 // of the last cycles, older ones counting less
	either      [cycle.MaxCylinders]float64 // likewise, of those that may be another cylinder's
	cycles      float64                     // counted likewise
	silent      [cycle.MaxCylinders]float64 // share of misfires of late
	open        [cycle.MaxCylinders]whileOpen
	well        perCylinder             // for how long each has fired, s
	misfit      [cycle.MaxCylinders]int // cycles in a row in which a draw did not fit its opening
	drawsLess   [cycle.MaxCylinders]bool
	telling     int                      // the cylinder that is being told, 0 is none
	toldAt      float64                  // since when
	jets        [cycle.MaxCylinders]int  // cycles in a row in which a hose looked half blocked; below 0 free
	shut        perCylinder              // by how much screws have raised each draw, kPa
	stay        int                      // the cylinder whose fault was told last of those that stay
	fell, fires bool                     // the speed dropped at once; all fire all the same, as was told since
	taken       [cycle.MaxCylinders]bool // a channel that shows less is taken as it is, as was told
	before      int                      // the cylinder that did not fire before the engine stood, until it does
}

// firesAgain is for how long a cylinder must fire that did not before the engine stood, s, for that to be over; half of
// what tells that it does not counts from before. Chosen: a mended engine needs as long to settle.
const firesAgain = 5.0

// stood forgets what was found, as it may be mended while the engine stands; but for a cylinder that does not fire, of
// which that is to be seen.
func (d *cylinderFaults) stood() {
	before := max(d.dead(), d.before)
	*d = cylinderFaults{before: before}
	if before > 0 {
		d.silent[before-1] = deadShare / 2
	}
}

// take takes the channels that show less as they are, where that was told: their cylinders stay in doubt.
func (d *cylinderFaults) take(s *cycle.Span) {
	for c := range s.N {
		if d.taken[c] && s.State[c] == cycle.ShowsLess {
			s.State[c] = cycle.OK
			if d.found[c] == "" {
				d.found[c], d.told[c] = advice.WhyShowsLess, advice.WhyShowsLess
			}
		}
	}
}

// whileOpen is what a cylinder did before its butterfly was shut.
type whileOpen struct {
	opening          series.Average // of its first cycles
	cycles, misfires float64
}

// isShut reports whether a cylinder with that opening, its draw raised by so many kPa, is shut further than it was.
func (o *whileOpen) isShut(opening, raised float64) bool {
	return raised > leastShut || o.opening.N > 0 && opening < shutShare*o.opening.Mean()
}

// push takes a cycle.
func (o *whileOpen) push(opening, raised float64, misfire bool) {
	if o.opening.N < openCycles && !math.IsNaN(opening) {
		o.opening = o.opening.With(opening)
	}
	if o.isShut(opening, raised) {
		return
	}
	o.cycles++
	if misfire {
		o.misfires++
	}
}

// sound reports whether the cylinder fired well then, share being the share of misfires now.
func (o *whileOpen) sound(share float64) bool {
	expected := share * o.cycles
	return expected >= soundExpected && o.misfires <= soundShare*expected ||
		expected >= noneExpected && o.misfires == 0
}

// push counts the misfires of a cycle; shut is by how much screws have raised each cylinder's draw. A misfire may be
// what makes the speed unsteady; how often one fires shows in a steady one alone, as a blip hides misfires.
func (d *cylinderFaults) push(s *cycle.Span, shut perCylinder, steady bool) {
	d.shut = shut
	d.fell, d.fires = s.Fell, d.fires && s.Fell
	keep := 1 - 1/(2*misfireCycles)
	d.cycles = d.cycles*keep + 1
	for c := range s.N {
		d.misfires[c] *= keep
		if d.either[c] *= keep; s.Either[c] {
			d.either[c]++
		}
		if steady || s.Misfire[c] {
			d.open[c].push(s.Opening[c], d.shut[c], s.Misfire[c])
			d.well[c] += s.Period
		}
		missed := 0.0
		switch {
		case !Sound(s.State[c]): // a hose that comes off looks like misfires at first
			d.misfires[c], d.either[c], d.found[c] = 0, 0, d.told[c]
		case s.Misfire[c]:
			d.misfires[c]++
			d.well[c], missed = 0, 1
		}
		if steady || c+1 == d.before {
			d.silent[c] += (missed - d.silent[c]) / deadCycles
		}
		if c+1 == d.before && d.well[c] > firesAgain {
			d.before = 0
		}
		if s.Stopped == c+1 {
			d.silent[c] = 1
		}
		switch dead := d.silent[c] > deadShare*(1-1/deadCycles); {
		case dead:
			d.found[c], d.before = advice.WhyDead, 0
		case d.found[c] == advice.WhyDead && d.silent[c] < deadShare/2:
			d.found[c], d.told[c] = "", ""
		}
	}
}

// diagnose finds what is ill: misfires, weak pulses, draws that do not fit the openings. blind
// is how much of a misfit the sensors' offsets may make up.
func (d *cylinderFaults) diagnose(r *Reading, w *window, blind pressure.KPa) {
	n := len(r.Cylinders)
	for c := range n {
		known := d.found[c] == advice.WhyLean || d.found[c] == advice.WhyDead
		switch o := &d.open[c]; {
		case known:
		case d.often(d.misfires[c]):
			d.found[c] = advice.WhyMisfires
			if o.sound(d.misfires[c]/d.cycles) && o.isShut(r.Span.Opening[c], d.shut[c]) {
				d.found[c] = advice.WhyLean
			}
		case d.found[c] == "" && d.often(d.either[c]):
			d.found[c] = advice.WhyOneMisfires
		}
	}
	for c := range n {
		if halfBlocked(&r.Span, c) {
			d.jets[c] = max(d.jets[c], 0) + 1
		} else {
			d.jets[c] = min(d.jets[c], 0) - 1
		}
		switch {
		case d.found[c] == advice.WhyHalfBlocked && d.jets[c] < -jetCycles: // as its cylinder stood apart then
			d.found[c], d.told[c] = "", ""
		case d.found[c] != "":
		case r.Cylinders[c].State == cycle.WeakPulse:
			d.found[c] = advice.WhyWeakPulse
		case d.jets[c] > jetCycles:
			d.found[c] = advice.WhyHalfBlocked
		}
	}
	if r.Cycles >= misfitCycles {
		d.findMisfit(r, blind)
	}
}

// often reports whether so many misfires of the last cycles are often.
func (d *cylinderFaults) often(misfires float64) bool {
	return (d.cycles >= misfireCycles || misfires >= sureMisfires) &&
		misfires > max(misfireShare*d.cycles, leastMisfires)
}

// findMisfit finds the cylinder whose draw has not fitted its opening for long.
func (d *cylinderFaults) findMisfit(r *Reading, blind pressure.KPa) {
	n := len(r.Cylinders)
	var off, most perCylinder
	mean := 0.0
	for c := range n {
		mean += float64(r.Cylinders[c].Draw) / float64(n)
	}
	for c := range n {
		cyl := &r.Cylinders[c]
		if !(cyl.OpeningUncertainty < mostMisfit/drawPerLogOpening/3) {
			return // an unknown opening says nothing
		}
		apart := (float64(cyl.Draw) - mean) * nominalDraw / max(mean, leastMean)
		off[c] = apart - drawBend*apart*apart + drawPerLogOpening*math.Log(cyl.Opening)
		most[c] = mostMisfit + misfitShare*math.Abs(apart) + float64(blind)
	}
	odd := series.FarthestOff(off[:n], most[:n])
	for c := range n {
		if d.misfit[c]++; c != odd {
			d.misfit[c] = 0
		}
	}
	if odd >= 0 && d.misfit[odd] >= staysMisfit && d.found[odd] == "" {
		d.found[odd] = advice.WhyDisagree
		if showsLess(r, odd) {
			d.found[odd] = advice.WhyShowsLess
		}
		d.drawsLess[odd] = off[odd] < 0 && d.found[odd] == advice.WhyDisagree
	}
}

// jetCycles is for how many cycles in a row a hose looks so before it is told. Measured: of 120 sound hoses 3 looked
// so, for 65 cycles, until twice as many refills were known.
const jetCycles = 80

// halfBlocked reports whether cylinder c's hose is perhaps a jet, and no more than half of all are. Measured on the
// practice engine: of 64 sound hoses none; of jets in one alone of 0.4 and 0.5 mm² before 2 cm³, which are 1.6 kPa off,
// all are that or known for jets, of 1 mm², 0.5 kPa off, 2 of 8.
func halfBlocked(s *cycle.Span, c int) bool {
	jets := 0
	for _, h := range s.Hose[:s.N] {
		if h == cycle.PerhapsJet || h == cycle.JetHose {
			jets++
		}
	}
	return s.Hose[c] == cycle.PerhapsJet && 2*jets <= s.N
}

// stays reports whether a fault is told until it is mended or put aside: levelled on, the bank would hide
// it. Where there are keys, that is so too of one that is looked at with the engine off.
func stays(why advice.Why, keys bool) bool {
	return why == advice.WhyDead || why == advice.WhyMisfires || why == advice.WhyLean ||
		why == advice.WhyOneMisfires ||
		keys && why == advice.WhyShowsLess
}

// staying returns the cylinder whose fault is told until it is put aside, 0 for none: what makes an engine misfire
// makes its speed move too.
func (d *cylinderFaults) staying() int {
	if d.stay > 0 && d.told[d.stay-1] != d.found[d.stay-1] {
		return d.stay
	}
	return 0
}

// dead returns a cylinder that does not fire, from 1; 0 is none.
func (d *cylinderFaults) dead() int {
	return slices.Index(d.found[:], advice.WhyDead) + 1
}

// silence returns what is told, at any speed, of a cylinder that does not fire: no bank is level on those that do, and
// no idle is to be raised on them.
func (d *cylinderFaults) silence() (adv advice.Advice, stop bool) {
	if c := d.dead(); c > 0 {
		return faultOf(c, advice.WhyDead), true
	}
	return advice.New(advice.Fault, advice.NoPart, advice.WhyOneSilent), d.fell && !d.fires
}

// putAside goes on past what was found, but for a cylinder that does not fire: the levelling waits for that.
func (d *cylinderFaults) putAside() {
	d.fires, d.before = d.fell, 0
	for c, why := range d.found {
		if why != advice.WhyDead {
			d.told[c] = why
		}
	}
}

// report returns a fault that was found, for tellSeconds, once each, unless it stays; said is set where another word
// may be told.
func (d *cylinderFaults) report(r *Reading, w *window, keys, said bool) (adv advice.Advice, stop bool) {
	for c := range r.Cylinders {
		if stays(d.found[c], keys) && d.told[c] != d.found[c] {
			d.stay = c + 1
			return faultOf(c+1, d.found[c]), true
		}
	}
	if d.telling > 0 && w.now()-d.toldAt < tellSeconds && d.told[d.telling-1] != d.found[d.telling-1] {
		return faultOf(d.telling, d.found[d.telling-1]), true
	}
	if d.telling > 0 {
		d.told[d.telling-1] = d.found[d.telling-1]
		d.telling = 0
	}
	for c := range r.Cylinders {
		if said && d.found[c] != d.told[c] {
			d.telling, d.toldAt = c+1, w.now()
			return faultOf(d.telling, d.found[c]), true
		}
	}
	return adv, false
}
