package faults

import (
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/linkage"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// How draws go with openings.
const (
	// NominalDraw is the mean that draws are scaled to, kPa. Chosen: a warm idle's 20 to 30 (common practice, no
	// source).
	NominalDraw = 25
	// LeastMean keeps the scaling from blowing up where there is hardly a draw, kPa.
	LeastMean = 5
	// DrawPerLogOpening is how far a cylinder's draw falls, at NominalDraw, when its butterfly opens by a factor e,
	// kPa. Measured on the practice engine; with it, draws and openings of sound cylinders agree to 0.5 kPa there,
	// whose runners differ by 2 % in volume.
	DrawPerLogOpening = 16.3
)

// Constants of what is no synchronising fault.
const (
	// drawBend is what is left of a draw then, by the square of how far it is from the mean of all, 1/kPa. Measured on
	// 60 practice engines whose cylinders stood up to 13 kPa apart; without it three of 100 such were told to disagree.
	drawBend = 0.022
	// mostMisfit is how far a cylinder's draw may be from the draw that its opening asks for, compared with the others,
	// kPa, and by what share of what it stands apart more than that: engines differ in how much a draw falls. Chosen:
	// three times those 0.5 kPa; worn rings with a tight valve are 2.9 off (measured). Measured on an engine of another
	// model, sound cylinders that stand 5 and 9 kPa apart are 2.8 and 3.9 off. A twin's is held against one alone, the
	// misfit of which counts in full: it may be twinMisfit times as far off (derived). Measured on 40 practice engines
	// each, less that share: sound fours up to 1.34, twins up to 1.8, worn ones of four 1.73 and more.
	mostMisfit, misfitShare = 1.5, 0.3
	twinMisfit              = math.Sqrt2
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
	// LeastShut is the least that a screw must have raised its cylinders' draws for them to count as shut by it.
	// Derived: what shutShare does by DrawPerLogOpening.
	LeastShut = 0.8 // kPa
	// A cylinder fired well before it was shut when the present share of misfires makes
	// soundExpected or more of them expected for that time, and no more than soundShare of
	// these came. Chosen: with the same share before and after, 1 in 25 looks like that.
	soundExpected = 5.0
	soundShare    = 0.2
	// Or when noneExpected were and none came, which is as seldom by chance. Derived: e to the minus 3.2.
	noneExpected = 3.2
	// tellSeconds is how long a cylinder's fault is told before the levelling goes on by itself. Chosen: some glances.
	tellSeconds = 4.0
)

// Cylinders finds the cylinders that look ill in a way that no synchronising screw mends, and has each told once. Its
// zero value has seen nothing.
type Cylinders struct {
	// Found is why each cylinder looks ill, "" while it doesn't; DrawsLess is set with advice.WhyDisagree where it
	// draws less than its opening asks for, and not merely otherwise.
	Found     [cycle.MaxCylinders]advice.Why
	DrawsLess [cycle.MaxCylinders]bool
	// Well is for how long each has fired, s.
	Well        linkage.PerCylinder
	told        [cycle.MaxCylinders]advice.Why
	misfires    [cycle.MaxCylinders]float64 // of the last cycles, older ones counting less
	longer      [cycle.MaxCylinders]float64 // likewise, of manyCycles
	either      [cycle.MaxCylinders]float64 // likewise, of those that may be another cylinder's
	cycles      float64                     // counted likewise
	silent      [cycle.MaxCylinders]float64 // share of misfires of late
	open        [cycle.MaxCylinders]whileOpen
	misfit      [cycle.MaxCylinders]int  // cycles in a row in which a draw did not fit its opening
	telling     int                      // the cylinder that is being told, 0 is none
	toldAt      float64                  // since when
	jets        [cycle.MaxCylinders]int  // cycles in a row in which a hose looked half blocked; below 0 free
	shut        linkage.PerCylinder      // by how much screws have raised each draw, kPa
	stay        int                      // the cylinder whose fault was told last of those that stay
	fell, fires bool                     // the speed dropped at once; all fire all the same, as was told since
	taken       [cycle.MaxCylinders]bool // a channel that shows less is taken as it is, as was told
	before      int                      // the cylinder that did not fire before the engine stood, until it does
}

// firesAgain is for how long a cylinder must fire that did not before the engine stood, s, for that to be over; half of
// what tells that it does not counts from before. Chosen: a mended engine needs as long to settle.
const firesAgain = 5.0

// Stood forgets what was found, as it may be mended while the engine stands; but for a cylinder that does not fire, of
// which that is to be seen.
func (d *Cylinders) Stood() {
	before := max(d.Dead(), d.before)
	*d = Cylinders{before: before}
	if before > 0 {
		d.silent[before-1] = deadShare / 2
	}
}

// Take takes the channels that show less as they are, where that was told: their cylinders stay in doubt.
func (d *Cylinders) Take(s *cycle.Span) {
	for c := range s.N {
		if d.taken[c] && s.State[c] == cycle.ShowsLess {
			s.State[c] = cycle.OK
			if d.Found[c] == "" {
				d.Found[c], d.told[c] = advice.WhyShowsLess, advice.WhyShowsLess
			}
		}
	}
}

// TakeAsIs has the channel of a cylinder, from 1, that shows less taken as it is from now on, as was told.
func (d *Cylinders) TakeAsIs(cylinder int) { d.taken[cylinder-1] = true }

// whileOpen is what a cylinder did before its butterfly was shut.
type whileOpen struct {
	opening          series.Average // of its first cycles
	cycles, misfires float64
}

// isShut reports whether a cylinder with that opening, its draw raised by so many kPa, is shut further than it was.
func (o *whileOpen) isShut(opening, raised float64) bool {
	return raised > LeastShut || o.opening.N > 0 && opening < shutShare*o.opening.Mean()
}

// Push takes a cycle.
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

// Push counts the misfires of a cycle; shut is by how much screws have raised each cylinder's draw. A misfire may be
// what makes the speed unsteady; how often one fires shows in a steady one alone, as a blip hides misfires.
func (d *Cylinders) Push(s *cycle.Span, shut linkage.PerCylinder, steady bool) {
	d.shut = shut
	d.fell, d.fires = s.Fell, d.fires && s.Fell
	keep := 1 - 1/(2*misfireCycles)
	d.cycles = d.cycles*keep + 1
	for c := range s.N {
		d.misfires[c] *= keep
		d.longer[c] *= 1 - 1/manyCycles
		if d.either[c] *= keep; s.Either[c] {
			d.either[c]++
		}
		if steady || s.Misfire[c] {
			d.open[c].push(s.Opening[c], d.shut[c], s.Misfire[c])
			d.Well[c] += s.Period
		}
		missed := 0.0
		switch {
		case !Sound(s.State[c]): // a hose that comes off looks like misfires at first
			d.misfires[c], d.longer[c], d.either[c], d.Found[c] = 0, 0, 0, d.told[c]
		case s.Misfire[c]:
			d.misfires[c]++
			d.longer[c]++
			d.Well[c], missed = 0, 1
		}
		if steady || c+1 == d.before {
			d.silent[c] += (missed - d.silent[c]) / deadCycles
		}
		if c+1 == d.before && d.Well[c] > firesAgain {
			d.before = 0
		}
		if s.Stopped == c+1 {
			d.silent[c] = 1
		}
		switch dead := d.silent[c] > deadShare*(1-1/deadCycles); {
		case dead:
			d.Found[c], d.before = advice.WhyDead, 0
		case d.Found[c] == advice.WhyDead && d.silent[c] < deadShare/2:
			d.Found[c], d.told[c] = "", ""
		}
	}
}

// Look is what a reading tells of the cylinders: their means over so many cycles, and the newest one.
type Look struct {
	Cycles int
	Span   *cycle.Span
	// Draw is in kPa, Opening over the reference's, NaN where unknown; OpeningUncertainty is the half-width of its 95 %
	// interval.
	Draw, Opening, OpeningUncertainty linkage.PerCylinder
}

// Diagnose finds what is ill: misfires, weak pulses, draws that do not fit the openings. blind
// is how much of a misfit the sensors' offsets may make up.
func (d *Cylinders) Diagnose(l *Look, blind pressure.KPa) {
	n := l.Span.N
	for c := range n {
		known := d.Found[c] == advice.WhyLean || d.Found[c] == advice.WhyDead
		switch o := &d.open[c]; {
		case known:
		case d.often(d.misfires[c]):
			d.Found[c] = advice.WhyMisfires
			if o.sound(d.misfires[c]/d.cycles) && o.isShut(l.Span.Opening[c], d.shut[c]) {
				d.Found[c] = advice.WhyLean
			}
		case d.Found[c] == "" && d.often(d.either[c]):
			d.Found[c] = advice.WhyOneMisfires
		}
	}
	for c := range n {
		if halfBlocked(l.Span, c) {
			d.jets[c] = max(d.jets[c], 0) + 1
		} else {
			d.jets[c] = min(d.jets[c], 0) - 1
		}
		switch {
		case d.Found[c] == advice.WhyHalfBlocked && d.jets[c] < -jetCycles: // as its cylinder stood apart then
			d.Found[c], d.told[c] = "", ""
		case d.Found[c] != "":
		case l.Span.State[c] == cycle.WeakPulse:
			d.Found[c] = advice.WhyWeakPulse
		case d.jets[c] > jetCycles:
			d.Found[c] = advice.WhyHalfBlocked
		}
	}
	if l.Cycles >= misfitCycles {
		d.findMisfit(l, blind)
	}
}

// findMisfit finds the cylinder whose draw has not fitted its opening for long.
func (d *Cylinders) findMisfit(l *Look, blind pressure.KPa) {
	n := l.Span.N
	var off, most linkage.PerCylinder
	mean, usual := 0.0, mostMisfit
	if n == 2 {
		usual *= twinMisfit
	}
	for c := range n {
		mean += l.Draw[c] / float64(n)
	}
	for c := range n {
		if !(l.OpeningUncertainty[c] < mostMisfit/DrawPerLogOpening/3) {
			return // an unknown opening says nothing
		}
		apart := (l.Draw[c] - mean) * NominalDraw / max(mean, LeastMean)
		off[c] = apart - drawBend*apart*apart + DrawPerLogOpening*math.Log(l.Opening[c])
		most[c] = usual + misfitShare*math.Abs(apart) + float64(blind)
	}
	odd := series.FarthestOff(off[:n], most[:n])
	for c := range n {
		if d.misfit[c]++; c != odd {
			d.misfit[c] = 0
		}
	}
	if odd >= 0 && d.misfit[odd] >= staysMisfit && d.Found[odd] == "" {
		d.Found[odd] = advice.WhyDisagree
		if showsLess(l, odd) {
			d.Found[odd] = advice.WhyShowsLess
		}
		d.DrawsLess[odd] = off[odd] < 0 && d.Found[odd] == advice.WhyDisagree
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

// Staying returns the cylinder whose fault is told until it is put aside, 0 for none: what makes an engine misfire
// makes its speed move too.
func (d *Cylinders) Staying() int {
	if d.stay > 0 && d.told[d.stay-1] != d.Found[d.stay-1] {
		return d.stay
	}
	return 0
}

// Dead returns a cylinder that does not fire, from 1; 0 is none.
func (d *Cylinders) Dead() int {
	return slices.Index(d.Found[:], advice.WhyDead) + 1
}

// Waits reports whether a cylinder that did not fire before the engine stood has yet to fire.
func (d *Cylinders) Waits() bool { return d.before > 0 }

// Silence returns what is told, at any speed, of a cylinder that does not fire: no bank is level on those that do, and
// no idle is to be raised on them.
func (d *Cylinders) Silence() (adv advice.Advice, stop bool) {
	if c := d.Dead(); c > 0 {
		return Of(c, advice.WhyDead), true
	}
	return advice.New(advice.Fault, advice.NoPart, advice.WhyOneSilent), d.fell && !d.fires
}

// PutAside goes on past what was found, but for a cylinder that does not fire: the levelling waits for that.
func (d *Cylinders) PutAside() {
	d.fires, d.before = d.fell, 0
	for c, why := range d.Found {
		if why != advice.WhyDead {
			d.told[c] = why
		}
	}
}

// Report returns a fault that was found of n cylinders, for tellSeconds, once each, unless it stays; now is the time,
// s, and said is set where another word may be told.
func (d *Cylinders) Report(n int, now float64, keys, said bool) (adv advice.Advice, stop bool) {
	for c := range n {
		if stays(d.Found[c], keys) && d.told[c] != d.Found[c] {
			d.stay = c + 1
			return Of(c+1, d.Found[c]), true
		}
	}
	if d.telling > 0 && now-d.toldAt < tellSeconds && d.told[d.telling-1] != d.Found[d.telling-1] {
		return Of(d.telling, d.Found[d.telling-1]), true
	}
	if d.telling > 0 {
		d.told[d.telling-1] = d.Found[d.telling-1]
		d.telling = 0
	}
	for c := range n {
		if said && d.Found[c] != d.told[c] {
			d.telling, d.toldAt = c+1, now
			return Of(d.telling, d.Found[c]), true
		}
	}
	return adv, false
}

// Of returns the advice that a cylinder, from 1, has a fault; 0 is none in particular.
func Of(cylinder int, why advice.Why) advice.Advice {
	adv := advice.New(advice.Fault, advice.NoPart, why)
	adv.Cylinder = cylinder
	return adv
}

// Sound reports whether a channel in that state measures its cylinder: a weak pulse still has its mean.
func Sound(s cycle.State) bool { return s == cycle.OK || s == cycle.WeakPulse }
