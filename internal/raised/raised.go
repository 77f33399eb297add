// Package raised looks at the bank at a raised speed: whether it is as level there as at idle, and what it points to
// where it is not. In comes a cycle.Span (Push); out goes a State: how long the speed has been held, what the hand on
// the grip does next, and once it is done both levels, a Pattern and its Causes. It holds no wording. Begin with New.
package raised

import (
	"cmp"
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// Constants of the raised-speed look.
const (
	// DefaultRPM is common practice, no source.
	DefaultRPM = 3000.0
	// DefaultLimit is the spread at which a bank passes at the raised speed. Chosen: on practice fours whose idle is
	// within 0.5 kPa it is 0.07 to 0.22 kPa there (8 bikes, 3000 rpm); with a leak of 1.8 mm² behind one butterfly,
	// levelled out, 0.56 to 1.01, of 1.4 mm² 0.35 to 0.63, of 0.9 mm² 0.20 to 0.46: that is not seen. An idle uneven
	// by x shows 0.2 to 0.3 x there (`go test ./internal/raised -v`).
	DefaultLimit pressure.KPa = 0.5
	// idleShare of the idle's spread is what the raised speed shows of it by itself. Measured as above.
	idleShare = 0.35
	// band is how far off the speed may be. Chosen: what a hand holds on a twist grip by ear.
	band = 0.12
	// heldS is how long it is to be held, idleHeldS how much of an idle is
	// wanted before. Chosen: some hundred cycles; more heats the engine.
	heldS, idleHeldS = 4.0, 5.0
	// reachS is how long the speed is given within its band before it counts: the hand is still on its way there.
	// Measured: a mean that took that way along read 100 rpm less than was held.
	reachS = 1.0
	// idleBelow is the share of the raised speed below which an engine counts as idling.
	idleBelow = 0.55
	// changeShare is the share of the raised speed's limit by which a cylinder's difference must
	// change between idle and the raised speed to be a finding. Chosen.
	changeShare = 0.5
	// cyclesPerSample is how many cycles count as one independent one. Chosen: differences
	// of draws are hardly correlated from cycle to cycle.
	cyclesPerSample = 2.0
)

// Config says what to look at.
type Config struct {
	Bank    bank.Bank
	Ambient pressure.KPa
	// RPM is the speed; 0 is DefaultRPM.
	RPM float64
	// Limit is the spread at which a bank passes at idle.
	Limit pressure.KPa
}

// Pattern is what an uneven result looks like.
type Pattern string

// Patterns.
const (
	NoPattern Pattern = ""
	EvenBoth  Pattern = "even"        // level at both speeds
	OneHigh   Pattern = "one-high"    // one draws more at the raised speed: it opens less
	OneLow    Pattern = "one-low"     // one draws less: it opens more
	SideOff   Pattern = "side-off"    // all on one side of a joint of the linkage
	IdleOnly  Pattern = "idle-only"   // uneven at idle, level above
	AllOver   Pattern = "all-over"    // uneven in no such order
	SameBoth  Pattern = "same-uneven" // as uneven as at idle
)

// Cause is what may lie behind a pattern.
type Cause string

// Causes.
const (
	CauseSlide     Cause = "slide"     // a slide that hangs, or a wrong spring
	CauseDiaphragm Cause = "diaphragm" // torn, pinched, or its bore blocked
	CauseNeedle    Cause = "needle"    // needle or jet: clip, wear, another part
	CauseLinkage   Cause = "linkage"   // worn or bent, a loose joint
	CauseLeak      Cause = "leak"      // air past a boot or hose
	CauseHidden    Cause = "hidden"    // such a leak, levelled out at idle by shutting the butterfly
	CauseSync      Cause = "sync"      // not level: level first
	CauseIdle      Cause = "idle"      // the idle's own passages
	CauseValves    Cause = "valves"    // clearances, compression
	CauseHose      Cause = "hose"      // a gauge hose or its jet
)

// causes lists, most likely first, what a pattern points to. Common practice, no
// source: the order is the authors' judgement.
var causes = map[Pattern][]Cause{
	OneHigh:  {CauseSlide, CauseHidden, CauseDiaphragm, CauseLinkage, CauseNeedle, CauseHose},
	OneLow:   {CauseSlide, CauseLinkage, CauseLeak, CauseNeedle, CauseValves, CauseHose},
	SideOff:  {CauseLinkage, CauseSync, CauseSlide},
	IdleOnly: {CauseLeak, CauseIdle, CauseSync, CauseValves},
	SameBoth: {CauseSync, CauseValves, CauseLeak},
	AllOver:  {CauseSlide, CauseDiaphragm, CauseNeedle, CauseLinkage, CauseValves},
}

// Level is how a bank stands at one speed, by cylinder - 1; cycle means over the whole time.
type Level struct {
	RPM    float64
	Cycles int
	// Draw is the mean vacuum, Off that less the mean of all, and Uncertainty the half-width of Off's 95 % interval.
	Draw, Off, Uncertainty [bank.MaxCylinders]pressure.KPa
	Spread                 pressure.KPa
}

// State is what is known, and the thing to do next.
type State struct {
	Advice    advice.Advice
	RPM       float64 // of the last cycle, NaN at rest
	TargetRPM float64
	// Limit is the spread at which a bank passes there, IdleLimit that at idle.
	Limit, IdleLimit pressure.KPa
	// HeldS of WantS seconds are gathered.
	HeldS, WantS float64
	Cylinders    int
	// Idle and Raised count where Done is set; Idle has cycles as soon as there are some.
	Idle, Raised Level
	Done         bool
	Pattern      Pattern
	// Cylinder is the odd one of OneHigh and OneLow, Screw the index of the joint's
	// synchronising screw of SideOff, -1 for none.
	Cylinder, Screw int
	// Causes are what it points to, most likely first.
	Causes []Cause
}

// Look is the stage that looks at the bank at a raised speed.
type Look struct {
	cfg    Config
	idle   drawStats
	raised drawStats
	within float64 // seconds for which the speed has been within its band
	state  State
}

// New returns a stage that has seen nothing.
func New(cfg Config) *Look {
	cfg.RPM = cmp.Or(cfg.RPM, DefaultRPM)
	n := cfg.Bank.Cylinders
	return &Look{cfg: cfg, idle: drawStats{n: n}, raised: drawStats{n: n},
		state: State{TargetRPM: cfg.RPM, Limit: DefaultLimit, IdleLimit: cfg.Limit, WantS: heldS,
			Cylinders: n, Screw: -1, RPM: math.NaN()}}
}

// Push takes the next span and returns the state as of its end.
func (r *Look) Push(s *cycle.Span) State {
	st := &r.state
	if st.Done {
		return *st
	}
	if !s.Cycle || s.Break {
		r.letGo()
		st.RPM, st.HeldS = math.NaN(), 0
		st.Advice = advice.New(advice.Wait, advice.TwistGrip, advice.WhyNoCycle)
		return *st
	}
	rpm := s.RPM()
	st.RPM = rpm
	low, high := r.cfg.RPM*(1-band), r.cfg.RPM*(1+band)
	switch {
	case rpm >= low && rpm <= high:
		if r.within += s.Period; r.within > reachS {
			r.raised.push(s, r.cfg.Ambient)
		}
	default:
		r.letGo()
		if rpm < idleBelow*r.cfg.RPM {
			r.idle.push(s, r.cfg.Ambient)
		}
	}
	if st.HeldS = r.raised.seconds; r.idle.seconds >= idleHeldS {
		st.Idle = r.idle.level()
	}
	st.Advice = r.advice(rpm)
	if st.HeldS >= heldS && r.idle.seconds >= idleHeldS {
		r.compare()
	}
	return *st
}

// letGo forgets what was held.
func (r *Look) letGo() { r.raised, r.within = drawStats{n: r.idle.n}, 0 }

// advice says what the hand on the grip does next.
func (r *Look) advice(rpm float64) advice.Advice {
	switch {
	case r.idle.seconds < idleHeldS:
		return advice.New(advice.Wait, advice.TwistGrip, advice.WhyIdleFirst)
	case r.within > 0:
		return advice.New(advice.Hold, advice.TwistGrip, advice.WhyHolding)
	case rpm > r.cfg.RPM:
		return advice.New(advice.Turn, advice.TwistGrip, advice.WhyLower)
	}
	return advice.New(advice.Turn, advice.TwistGrip, advice.WhyRaise)
}

// compare holds the two levels against each other.
func (r *Look) compare() {
	st := &r.state
	st.Idle, st.Raised, st.Done = r.idle.level(), r.raised.level(), true
	st.Pattern, st.Cylinder, st.Screw = r.pattern()
	st.Causes = causes[st.Pattern]
	st.Advice = advice.New(advice.Done, advice.TwistGrip, advice.WhyCompared)
}

// pattern names what the raised speed shows.
func (r *Look) pattern() (p Pattern, cylinder, screw int) {
	idle, raised := &r.state.Idle, &r.state.Raised
	limit := max(DefaultLimit, idleShare*idle.Spread)
	uneven, wasUneven := raised.Spread > limit, idle.Spread > r.cfg.Limit
	switch {
	case !uneven && !wasUneven:
		return EvenBoth, 0, -1
	case !uneven:
		return IdleOnly, 0, -1
	}
	var change [bank.MaxCylinders]float64
	moved := false
	for i := range r.idle.n {
		change[i] = float64(raised.Off[i] - idle.Off[i])
		doubt := math.Hypot(float64(raised.Uncertainty[i]), float64(idle.Uncertainty[i]))
		moved = moved || math.Abs(change[i]) > max(changeShare*float64(limit), doubt)
	}
	if !moved {
		return SameBoth, 0, -1
	}
	return r.cfg.patternOf(change[:r.idle.n])
}

// patternOf tells whether one cylinder has left the others, or one side of a joint has.
func (c *Config) patternOf(change []float64) (p Pattern, cylinder, screw int) {
	least := changeShare * float64(DefaultLimit)
	total := 0.0
	for _, v := range change {
		total += v
	}
	rest := func(i int) (mean, spread float64) { // of the others
		low, high := math.Inf(1), math.Inf(-1)
		for j, v := range change {
			if j != i {
				low, high = min(low, v), max(high, v)
			}
		}
		return (total - change[i]) / float64(len(change)-1), high - low
	}
	for i, v := range change {
		if mean, spread := rest(i); len(change) > 2 && math.Abs(v-mean) > max(least, 2*spread) {
			if v > mean {
				return OneHigh, i + 1, -1
			}
			return OneLow, i + 1, -1
		}
	}
	if len(change) == 2 { // either may be the odd one: the one that left the idle's level more is unknown
		return SideOff, 0, 0
	}
	for s := range c.Bank.Screws {
		if len(c.Bank.Screws[s].Moves) > 1 && c.sideGap(s, change) > least {
			return SideOff, 0, s
		}
	}
	return AllOver, 0, -1
}

// sideGap returns how far the sides of a screw stand apart beyond their own spreads.
func (c *Config) sideGap(s int, change []float64) float64 {
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for i, v := range change {
		side := 0
		if c.Bank.Moves(s, i+1) {
			side = 1
		}
		low[side], high[side] = min(low[side], v), max(high[side], v)
	}
	return max(low[0]-high[1], low[1]-high[0])
}

// drawStats sums a bank's draws over some cycles.
type drawStats struct {
	n             int
	cycles        int
	seconds       float64
	draw, off, sq [bank.MaxCylinders]float64 // sums
}

// push adds a cycle; one with samples missing is left out.
func (g *drawStats) push(s *cycle.Span, ambient pressure.KPa) {
	g.seconds += s.Period
	if !s.Whole() {
		return
	}
	g.cycles++
	mean := 0.0
	for i := range g.n {
		mean += float64(ambient-s.Mean[i]) / float64(g.n)
	}
	for i := range g.n {
		draw := float64(ambient - s.Mean[i])
		off := draw - mean
		g.draw[i] += draw
		g.off[i] += off
		g.sq[i] += off * off
	}
}

func (g *drawStats) level() (l Level) {
	n := float64(g.cycles)
	l.Cycles, l.RPM = g.cycles, 120*n/g.seconds
	for i := range g.n {
		l.Draw[i], l.Off[i] = pressure.KPa(g.draw[i]/n), pressure.KPa(g.off[i]/n)
		variance := max(g.sq[i]/n-g.off[i]/n*g.off[i]/n, 0)
		l.Uncertainty[i] = pressure.KPa(1.96 * math.Sqrt(variance*cyclesPerSample/max(n, 1)))
	}
	l.Spread = slices.Max(l.Off[:g.n]) - slices.Min(l.Off[:g.n])
	return l
}
