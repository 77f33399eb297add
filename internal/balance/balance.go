package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/faults"
	"evendraw/internal/heat"
	"evendraw/internal/hoses"
	"evendraw/internal/learned"
	"evendraw/internal/linkage"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
	"evendraw/internal/warmup"
)

// Defaults of the bike card's two figures.
const (
	// DefaultAim is the spread at which the advice stops. Chosen.
	DefaultAim pressure.KPa = 0.5
	// DefaultLimit is the spread at which a bank passes: 20 mmHg. Common
	// practice, no source; the bike's own manual decides.
	DefaultLimit pressure.KPa = 2.7
)

// Config says what a Balance works on.
type Config struct {
	Bank bank.Bank
	// Ambient is the absolute air pressure that draws count from.
	Ambient pressure.KPa
	// Reference is the cylinder compared against; 0 means 1.
	Reference int
	// Aim is the spread at which the advice stops; 0 means DefaultAim.
	Aim pressure.KPa
	// OffsetBand is how far a sensor's offset may be off without a zero pass; 0 after one.
	OffsetBand pressure.KPa
	// GainBand is how far each sensor's gain may be off, as a share, by cylinder - 1: what the
	// data sheet allows, or what a match pass left; 0 is known to be right.
	GainBand [cycle.MaxCylinders]float64
	// SupplyBand is by what share all pressures read may be off alike, where the sensors' supply is not the
	// converter's reference.
	SupplyBand float64
	// IdleLow and IdleHigh bound the idle speed in rpm; both 0 when unknown.
	IdleLow, IdleHigh float64
	// LevelBy is what is made level; "" means ByDraw.
	LevelBy LevelBy
	// Hand is the user's as a card tells of it; without a Lag it is unknown.
	Hand learned.Hand
	// Keys is set where somebody can tell by a key that a lock nut is tight: see Balance.GoOn. It is
	// waited for then, for keylessSeconds; without, nuts are given less.
	Keys bool
}

// LevelBy is what a bank is levelled by.
type LevelBy string

// Ways of levelling: the vacuum, or the butterflies.
const (
	ByDraw    LevelBy = "draw"
	ByOpening LevelBy = "opening"
)

// Balance is the stage from spans to readings.
type Balance struct {
	cfg        Config
	win        window
	speeds     [steadyCycles]float64
	speedCount int
	slowRPM    float64 // slow mean of the speed, rpm
	calmRPM    float64 // it when the speed was last steady, rpm
	// usualScatter is by what share the speed of steadyCycles scatters as a rule: see roughSD.
	usualScatter float64
	// disturbed is set from when the speed scatters or leaves its slow mean until it has settled.
	disturbed bool
	misfires  misfireFilter
	strained  strained // the engine draws little for an idle: see lowDraw
	gate      gate
	advisor   advisor
	dips      hoses.Dips
	order     hoses.Order
	told      advice.Advice // last
	toldAt    float64       // since when, s
	whyAt     float64       // since when its reason is told, s
	answered  bool          // the word before that was one that a key answers
	now       float64       // time of the newest reading, s
}

// New returns a Balance of a checked bank.
func New(cfg Config) *Balance {
	if cfg.Reference == 0 {
		cfg.Reference = 1
	}
	if cfg.Aim == 0 {
		cfg.Aim = DefaultAim
	}
	link, ok := linkage.New(&cfg.Bank)
	return &Balance{cfg: cfg, win: window{n: cfg.Bank.Cylinders, link: link, byOpening: cfg.LevelBy == ByOpening},
		gate: newGate(&cfg, ok), advisor: newAdvisor(&cfg)}
}

// SetReference chooses the cylinder compared against, from 1.
func (b *Balance) SetReference(cylinder int) { b.cfg.Reference = cylinder }

// SetAmbient tells what a zero pass learned; offsets are then known, and what was averaged before no longer counts.
func (b *Balance) SetAmbient(ambient pressure.KPa) {
	b.cfg.Ambient = ambient
	b.cfg.OffsetBand, b.advisor.offsetBand = 0, 0
	b.win.clear()
	b.advisor.interrupt(&b.win)
}

// StopTurned tells that the throttle stop is being turned, which opens all butterflies
// and moves the speed: no sign of an engine that grows warm.
func (b *Balance) StopTurned() {
	b.gate.warmth = warmup.Watch{}
	b.advisor.halts.idle = 0
}

// SetHeat tells where the budget of idling stands: while the engine is to stand and cool no screw is named, and no
// check is begun that can't be ended before the limit. A wait for advice.WhyHot then asks for the cool-down before
// its time.
func (b *Balance) SetHeat(h heat.State) { b.gate.hot, b.advisor.heat = h.Hot, h }

// Pause tells that draws may move by other things than screws, as where joints are wetted, until it is told false: no
// screw is named meanwhile, and none has moved. The bank is looked at anew then.
func (b *Balance) Pause(on bool) {
	if b.gate.paused && !on {
		b.advisor.blames.searched()
		b.advisor.cut = false
		b.win.clear()
	}
	b.gate.paused = on
}

// Warming reports whether the engine is seen to be cold still.
func (b *Balance) Warming() bool { return b.gate.warmth.Warming() }

// Push takes the next span and returns the reading as of its end.
func (b *Balance) Push(span *cycle.Span) Reading {
	own := *span
	s := &own
	b.gate.faults.Take(s)
	if s.Break || !s.Cycle {
		b.win.clear()
		b.speedCount, b.advisor.cut, b.advisor.trail = 0, false, trail{} // what a blip moves is no turn
		b.advisor.check.watchLost(s, b.cfg.Ambient)
	}
	b.watchHoses(s)
	if b.gate.standing > standSeconds { // the throttle stop may be turned then
		h := &b.advisor.halts
		h.idle, h.looked = 0, h.looked || h.told != ""
		b.advisor.blames.looked()
		b.advisor.forgetIll()
		b.advisor.play = linkagePlay{} // it may be mended
	}
	if b.gate.standing > standSeconds || s.Silence > standSeconds {
		b.advisor.halts.stood, b.advisor.cut = true, false
	}
	p := b.advisor.phase
	if b.win.held = p == turning || p == settling || p == astray; s.Cycle {
		b.pushCycle(s)
	}
	r := b.reading(s)
	r.Advice = b.advise(&r)
	b.advisor.blames.end(&b.gate.faults.Well, &b.told)
	b.advisor.tellShut(&r.Advice)
	b.advisor.noteIll(&b.gate.faults, &r.Advice)
	b.now = r.Time
	if !r.Advice.Same(&b.told) {
		b.toldAt = r.Time
	}
	if r.Advice.Why != b.told.Why {
		b.whyAt = r.Time
		b.answered = b.told.Kind == advice.Fault || b.told.Why == advice.WhyNuts || b.told.Why == advice.WhyNoAnswer
	}
	b.told = r.Advice
	r.Halts = b.advisor.halts.soFar
	b.lowDraw(&r)
	r.Halts.Play = pressure.KPa(b.advisor.play.told())
	r.Halts.LowDraw, r.Halts.FiresSaid = b.strained.low && !b.strained.said, b.strained.said
	for c := range r.Cylinders {
		r.Cylinders[c].Doubt, r.Cylinders[c].DrawsLess = b.gate.faults.Found[c], b.gate.faults.DrawsLess[c]
	}
	if r.Loose = b.advisor.openNuts() & b.advisor.check.moved; b.cfg.Bank.NoLockNuts {
		r.Loose = ^uint(0)
	}
	r.NutsUnsaid = b.advisor.check.unsaid &^ b.advisor.openNuts()
	r.widen(&b.cfg.GainBand, b.cfg.SupplyBand)
	return r
}

// saidSeconds is how long a word stands at least before a fault takes its place that goes on in a moment: one that is
// gone sooner was not said. Chosen: a glance.
const saidSeconds = 1.2

// advise returns the advice that belongs to a reading.
func (b *Balance) advise(r *Reading) advice.Advice {
	if adv, stop := b.gate.unreadable(r, &b.win); stop {
		if adv.Why == advice.WhyDead || adv.Why == advice.WhyOneSilent { // whatever is under way
			b.advisor.abandon(&b.win)
			return adv
		}
		if early, ok := b.unsettled(adv.Why, r); ok {
			return early
		}
		if held, ok := b.advisor.hold(adv.Why, b.gate.standing, r, &b.win); ok {
			return held
		}
		b.advisor.interrupt(&b.win)
		return adv
	}
	b.advisor.watchStand(&b.win)
	b.gate.faults.Diagnose(r.look(), 2*b.cfg.OffsetBand)
	said := b.told.Kind == advice.Wait || r.Time-b.toldAt > saidSeconds
	if p := b.advisor.phase; p == choosing || p == asking || p == unanswered {
		if adv, stop := b.gate.unready(r, &b.win, said); stop {
			b.advisor.interrupt(&b.win)
			return adv
		}
	}
	// A level of a cold engine is looked at again.
	if p := b.advisor.phase; p >= blipping && p < finished && b.gate.warmth.Warming() {
		b.advisor.interruptCheck()
		return waitFor(advice.WhyCold)
	}
	b.advisor.suspect = b.gate.faults.Untold(r.Cycles)
	adv := b.advisor.next(r, &b.win)
	if b.advisor.phase == asking && b.advisor.phaseCycle == b.win.next { // a fault comes before what is named just now
		if fault, stop := b.gate.unready(r, &b.win, said); stop {
			b.advisor.interrupt(&b.win)
			return fault
		}
	}
	return adv
}

// orderEvery is how many cycles lie between two looks at the order of the
// pulses: it takes many steps, and changes with nothing but a hose.
const orderEvery = 32

// watchHoses keeps the order of the pulses up to date. It begins anew where the engine stood, as hoses are moved then.
// What was found of cylinders whose hoses were exchanged is another's, and is forgotten once they no longer are.
func (b *Balance) watchHoses(s *cycle.Span) {
	was := b.order.Verdict
	b.followOrder(s)
	if was == hoses.Exchanged && b.order.Verdict != was {
		b.gate.faults = faults.Cylinders{}
	}
}

func (b *Balance) followOrder(s *cycle.Span) {
	if s.Break || !s.Cycle {
		b.dips, b.order = hoses.Dips{}, hoses.Order{Verdict: hoses.CannotTell}
	}
	b.gate.countSound(s)
	if !s.Cycle {
		return
	}
	before := b.dips.Count()
	b.dips.Push(s)
	if n := b.dips.Count(); n > before && (n == hoses.Cycles || n%orderEvery == 0) {
		b.order = b.dips.Order(&b.cfg.Bank)
	}
}

// reading fills in all but the advice.
func (b *Balance) reading(s *cycle.Span) Reading {
	nan := pressure.KPa(math.NaN())
	r := Reading{Time: s.End(), RPM: math.NaN(), Reference: b.cfg.Reference, Spread: nan, SpreadUncertainty: nan,
		Cycles: b.win.cycles(), Span: *s, Steady: b.steady(), OffIdle: b.gate.offIdle(b.win.rpm),
		Hoses:      b.order,
		HosesAside: b.gate.hosesFine,
		Cylinders:  make([]Cylinder, 0, b.win.n)}
	if s.Cycle {
		r.RPM = s.RPM()
	}
	least, most := -1, -1
	for c := range b.win.n {
		r.Cylinders = append(r.Cylinders, b.cylinder(c, s))
		if r.Cycles == 0 || !Sound(s.State[c]) {
			continue
		}
		draw := r.Cylinders[c].Draw
		if least < 0 || draw < r.Cylinders[least].Draw {
			least = c
		}
		if most < 0 || draw > r.Cylinders[most].Draw {
			most = c
		}
	}
	if least >= 0 && (b.win.n == 1 || len(r.LeftOut()) < b.win.n-1) { // one alone has none
		r.Spread, r.SpreadUncertainty = b.difference(most, least)
	}
	return r
}

// cylinder returns what is known of cylinder c + 1.
func (b *Balance) cylinder(c int, s *cycle.Span) Cylinder {
	nan, ref := pressure.KPa(math.NaN()), b.cfg.Reference-1
	cyl := Cylinder{Cylinder: c + 1, Channel: b.cfg.Bank.Channels[c], Draw: nan, Difference: nan, Uncertainty: nan,
		Ripple: nan, Opening: math.NaN(), OpeningUncertainty: math.NaN(), State: s.State[c]}
	if s.Cycle {
		cyl.Ripple = s.Ripple(c + 1)
	}
	switch {
	case b.win.cycles() > 0:
		cyl.Draw = pressure.KPa(b.meanDraw(c))
		if Sound(s.State[c]) && Sound(s.State[ref]) {
			cyl.Difference, cyl.Uncertainty = b.difference(c, ref)
			cyl.Uncertainty += pressure.KPa(b.win.rejectedApart(c, ref))
			cyl.Opening, cyl.OpeningUncertainty = b.opening(c, ref, s)
		}
	case !s.Cycle:
		cyl.Draw = b.cfg.Ambient - s.Mean[c]
	}
	return cyl
}

// meanDraw returns the mean draw of cylinder c.
func (b *Balance) meanDraw(c int) float64 {
	then, now := b.win.before(b.win.first), b.win.before(b.win.next)
	return (now.draw[c] - then.draw[c]) / float64(b.win.cycles())
}

// difference returns draw c minus draw ref, and the half-width of its 95 % interval; 0 of a cylinder from itself.
func (b *Balance) difference(c, ref int) (mean, half pressure.KPa) {
	if c == ref {
		return 0, 0
	}
	d, h := b.win.difference(c, ref)
	return pressure.KPa(d), pressure.KPa(h)
}

// leastOpenings is how many cycles an opening needs. Chosen: about a second.
const leastOpenings = 8

// What the method itself may be off by in the ratio of two openings, as half-widths of 95 %, shares. Measured: see
// TestIntervalsOnThePracticeEngine of package session, and NOTES.md of package cycle.
const (
	openingShare = 0.002 // short hoses, at sea level
	farShare     = 0.005 // behind hoses of longLag or more, or in air of less than thinAir
	thinShare    = 0.018 // both, and the hoses of veryLongLag or more
	longLag      = 8e-3  // s
	veryLongLag  = 30e-3 // s
	thinAir      = 90    // kPa
)

// OpeningShare returns by what share the method itself may be off in the ratio of two openings, half-width of 95 %;
// lag and other are of their hoses, s, NaN or 0 where unknown.
func OpeningShare(lag, other float64, ambient pressure.KPa) float64 {
	isLonger := func(than float64) bool { return lag > than || other > than }
	switch {
	case isLonger(veryLongLag) && ambient < thinAir:
		return thinShare
	case isLonger(longLag) || ambient < thinAir:
		return farShare
	}
	return openingShare
}

// opening returns cylinder c's opening over ref's, and the half-width of its 95 % interval; NaN where unknown. The
// ratio is that of the means, as the mean of ratios would be too large.
func (b *Balance) opening(c, ref int, s *cycle.Span) (ratio, half float64) {
	var own, others series.Average
	w := &b.win
	openings, references := &w.opening[c], &w.opening[ref]
	for k := w.first; k < w.next; k++ {
		o, other := openings.at(k), references.at(k)
		r := o / other
		if r != r { // an unknown opening is left out
			continue
		}
		w.values[own.N] = r
		own, others = own.With(o), others.With(other)
	}
	switch {
	case own.N < leastOpenings:
		return math.NaN(), math.NaN()
	case c == ref:
		return 1, 0
	}
	var all series.Series
	all.PushAll(w.values[:own.N])
	ratio = own.Mean() / others.Mean()
	return ratio, math.Hypot(float64(all.HalfWidth()), OpeningShare(s.Lag[c], s.Lag[ref], b.cfg.Ambient)*ratio)
}
