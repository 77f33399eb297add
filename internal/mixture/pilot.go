package mixture

import (
	"cmp"
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
)

// Screws is the kind of the pilot screws.
type Screws string

// Kinds of pilot screws.
const (
	UnknownScrews Screws = ""
	FuelScrews    Screws = "fuel" // downstream of the butterfly: out is richer
	AirScrews     Screws = "air"  // upstream: out is leaner
)

// Constants of the pilot screws' trim.
const (
	// DefaultStep is what turns are counted in: an eighth of a turn (common practice).
	DefaultStep = 1.0 / 8
	// DefaultReach of a four is how far from the best guess the speed is looked at, in turns. Derived: on the practice
	// engine a four's idle falls by 88 rpm a turn² on either side of the best, and the mean of T seconds scatters by 17
	// rpm/√T: an eighth off the best costs 1.4 rpm, which would take minutes to see; three quarters to either side cost
	// 50.
	DefaultReach = 0.75
	// inFirst is the share of that by which a screw that stands little out is turned in first. Chosen: 0.5 to 0.85 do
	// as well.
	inFirst = 2.0 / 3
	// mostOff and mostLean are how far from the best guess, on the rich and on the lean side, a
	// screw is turned to look. Chosen: a turn off costs a four 88 rpm; lean misfires first.
	mostOff, mostLean = 1.0, 0.875
	// FreeTurns is how far from where it stood a screw is turned without a reason told. Chosen: as
	// far as a maker's figure may be off.
	FreeTurns = 0.75
	// mostIn is how far in a screw is told to go at most from the setting at which it idled best so far. Chosen: a turn
	// (common practice, no source).
	mostIn = 1.0
	// leastOut and mostOut bound a screw in turns out from lightly seated. Chosen: it
	// is never screwed onto its seat; typical settings are 1 to 3 (common practice).
	leastOut, mostOut = 1.0 / 4, 4.5
	// mostFromStart bounds the way from the start where turns out are not known.
	mostFromStart = 1.5
	// DefaultWatchS is how long the speed is watched at each setting, s. Chosen: as long as the way there.
	DefaultWatchS = 8.0
	// lastWatchFactor is by how much longer the third setting and those after it are watched while the peak is
	// not sure, leastWatchS how long at least. Chosen: to go on looking costs less than another turn.
	lastWatchFactor, leastWatchS = 1.25, 3.0
	// baseS is the same before the first turn: the look at the idle, or the cylinder before, has told the speed,
	// to which wanderSD, rpm, is added as doubt; roughBaseS of a rough idle. Chosen.
	baseS, roughBaseS, wanderSD = 4, 6.0, 3.0
	// sureTurns is the half-width of the 95 % interval of a peak at which a look ends early, takenTurns that at
	// which the peak is taken once the look's time is over, in turns. Chosen: with the errors of setting a
	// sixteenth by hand they leave 95 % of fours within an eighth, and another turn takes 12 s.
	sureTurns, takenTurns = 0.12, 0.16
	// mostRough is how rough an idle may be to be asked for that, and to be left as soon as it is reached: of a
	// lumpy one, whose scatter is not white, an answer is enough. Chosen.
	mostRough = 1.6
	// mostVisits is after how many settings a cylinder is left with what is known.
	mostVisits = 7
	// leastVisits is after how many a cylinder may be left because another look would lessen the variance of the peak
	// by less than the share leastPromise. Chosen.
	leastVisits, leastPromise = 4, 0.15
	// answerTurns is the half-width up to which what is known is an answer. Chosen: an idle
	// within a quarter of a turn of its best is a sound one.
	answerTurns = 0.25
	// handTurns is what a hand's own errors add to that when it is told, as a half-width: where a screw was looked
	// at and where it is set. Simulated: of hands that turn up to 15 % too far or too short, or an eighth too far
	// each time, 94 to 99 % of the intervals hold with it, 85 to 91 % without.
	handTurns = 0.15
	// usualBend is how bent a sound cylinder's curve is: cylinders × fall of the speed a turn² off the best / speed.
	// Measured on the practice engine: 88 rpm a turn² at 1040 rpm on a four.
	usualBend = 0.34
	// MostApart is how far settings may be from each other in turns (common practice).
	MostApart = 1.0
	// idleRoom is how far either side of the idle at the start it is brought back to when the card holds no range, rpm.
	idleRoom = 80.0
)

// TrimConfig says how the pilot screws are trimmed.
type TrimConfig struct {
	Cylinders int
	Screws    Screws
	// TurnsOut is where each screw stands, in turns out from lightly seated, by cylinder - 1; nil or NaN is unknown.
	TurnsOut []float64
	// Step is what turns are counted in, Reach how far from the best guess the speed is looked at, MostTurns the most
	// that is turned at once; 0 is DefaultStep, DefaultReach, no limit.
	Step, Reach, MostTurns float64
	// WatchS is how long each setting is watched; 0 is DefaultWatchS.
	WatchS float64
	// Confirm waits for Made after each turn without asking whether it is made.
	Confirm bool
	// Earlier are the results of a trim that is gone on with, by cylinder - 1; nil is none.
	Earlier []Pilot
	// Only lists the cylinders to trim; nil is all.
	Only []int
	// Target is the owner's lambda, 0 for the highest speed; LambdaOf the cylinder
	// that the probe is in the exhaust of, 0 for that of all.
	Target   float64
	LambdaOf int
	// ProbeDelayS is how long exhaust and probe take to tell of a change; 0 is DefaultProbeDelayS.
	ProbeDelayS float64
}

func (c TrimConfig) withDefaults() TrimConfig {
	c.Step, c.Reach = cmp.Or(c.Step, DefaultStep), cmp.Or(c.Reach, DefaultReach*c.reachShare())
	c.WatchS, c.ProbeDelayS = cmp.Or(c.WatchS, DefaultWatchS), cmp.Or(c.ProbeDelayS, DefaultProbeDelayS)
	return c
}

// reachShare is how far a screw is turned to look, of a four's way: of few cylinders each has more of the
// speed, so that less of a way shows as much. Derived: the fall goes with the square of the way.
func (c *TrimConfig) reachShare() float64 {
	const four = 4.0
	return math.Sqrt(float64(max(c.Cylinders, 1)) / four)
}

// Found is how a cylinder's trim ended.
type Found string

// Ways of ending.
const (
	Pending  Found = ""          // its turn has not come
	Trimming Found = "trimming"  // under way
	ToSet    Found = "to-set"    // its highest idle is known, it is not set there: not yet, or not surely off its seat
	AtPeak   Found = "at-peak"   // set where the idle is highest
	AtTarget Found = "at-target" // set to the owner's lambda
	OffAim   Found = "off-aim"   // set towards the owner's lambda, which the probe does not tell there
	Unsure   Found = "unsure"    // set to the best guess, which is no surer than told
	Unturned Found = "unturned"  // of earlier versions: it was left as nobody confirmed its turn
	AtEnd    Found = "at-end"    // best at the end of the travel, or beyond
	Silent   Found = "no-answer" // the speed does not answer to the screw
)

// Final reports whether the screw is done with: a trim that is gone on with leaves it.
func (f Found) Final() bool { return f != Pending && f != Trimming && f != ToSet && f != Unturned }

// Pilot is one pilot screw. Turns are out from lightly seated, unknown figures NaN.
type Pilot struct {
	Cylinder int
	Found    Found
	// StartOut is where it stood, Out where it stands by what was confirmed or seen; Moved the
	// difference, outwards positive, always known.
	StartOut, Out, Moved float64
	// Doubt is by how much further in than Out it may stand: turns out that were confirmed and that the speed has not
	// borne out. ToldIn is the turn in that was told last and that is not confirmed; 0 is none.
	Doubt, ToldIn float64
	// Open is the turn that is told and that nobody has confirmed, turns out; 0 is none.
	Open float64
	// Best is where the idle is highest, as Moved, and Uncertainty the half-width of its 95 % interval.
	Best, Uncertainty float64
	// GainRPM is what the speed has gained by the trim, by the fit.
	GainRPM float64
	// Lambda is what the probe told at the setting, by the last look at it; NaN where it is in another pipe. ProbeDeaf
	// is set where it did not answer to the screw as it should.
	Lambda    float64
	ProbeDeaf bool
	// ForetoldRPM is the speed that was foretold for the setting, SetRPM what it brought, where that was surely less;
	// else both are 0.
	ForetoldRPM, SetRPM float64
	// Seconds is how long the engine has idled for it, Visits how many settings were looked at.
	Seconds float64
	Visits  int
}

// InTrial reports whether the screw stands off where it was, and not where it was found to be best: it was left
// in the middle of its trim.
func (p *Pilot) InTrial() bool { return p.Moved != 0 && !p.Found.Final() }

// Astray reports whether the screw may stand off where it was, as one in trial, or by a turn that nobody confirmed.
func (p *Pilot) Astray() bool { return p.InTrial() || p.Open != 0 }

// PutBack notes that the screw was turned back to where it stood.
func (p *Pilot) PutBack() { p.Moved, p.Open, p.Out, p.Doubt, p.ToldIn = 0, 0, p.StartOut, 0, 0 }

// NewPilot returns a screw of which nothing is known but where it stands.
func NewPilot(cylinder int, out float64) Pilot {
	nan := math.NaN()
	return Pilot{Cylinder: cylinder, StartOut: out, Out: out, Best: nan, Uncertainty: nan, GainRPM: nan, Lambda: nan}
}

// Anew returns the screw where it stands now, to be trimmed anew.
func (p *Pilot) Anew() Pilot {
	anew := NewPilot(p.Cylinder, p.Out)
	anew.Doubt, anew.ToldIn = p.Doubt, p.ToldIn
	return anew
}

// Point is one setting that was watched: turns out from where the screw stood at the
// start, and the mean speed there with the half-width of its 95 % interval.
type Point struct{ Moved, RPM, UncertaintyRPM, Lambda float64 }

// MaxPoints bounds the points of a cylinder.
const MaxPoints = mostVisits + 1

// Step is where the trim stands.
type Step string

// Steps.
const (
	StepIdle   Step = "idle"    // the idle speed is brought to its range
	StepBase   Step = "base"    // the speed before the first turn is watched
	StepTurn   Step = "turn"    // a screw is to be turned
	StepWatch  Step = "watch"   // the speed is watched
	StepSet    Step = "set"     // the screw is to be set to what was found
	StepRest   Step = "rest"    // the engine stands and cools before the next screw
	StepAllSet Step = "all-set" // all screws are set: look at the levelling again
)

// TrimState is what the trim knows, and the thing to do next. It is plain data that never changes once given.
type TrimState struct {
	Step     Step
	Cylinder int // being trimmed, 0 for none
	Left     int // screws still to trim, that one with them
	Advice   advice.Advice
	// Richer tells whether the advised turn makes the mixture richer; it counts where RicherKnown is set.
	Richer, RicherKnown bool
	// Anew is set while a screw's trim begins anew from where it stands, as a turn of it was not made as confirmed.
	Anew bool
	// Ending is how the screw's trim ends once it is set, at StepSet.
	Ending Found
	// Goal is where the turn that is told ends, in turns out from where the screw stood; NaN without one.
	Goal float64
	// LeftS is how many seconds the present step has at most; NaN where it waits.
	LeftS float64
	// RPM is the speed of the last cycles.
	RPM       float64
	Cylinders int
	Pilots    [bank.MaxCylinders]Pilot
	Points    [MaxPoints]Point
	NPoints   int
	// Last is the turn that was told last, made or not, Said the one that was confirmed last.
	Last, Said ToldTurn
	// Apart is the largest difference between settings in turns, NaN when unknown.
	Apart float64
	// IdlingS is how long the engine has run since the trim began.
	IdlingS float64
	// Target is the owner's lambda that is sought, 0 for the highest speed; LambdaOf the cylinder in whose exhaust the
	// probe is, 0 for that of all.
	Target   float64
	LambdaOf int
	// LeanPeak is what the probe told at the highest idle where that is leaner than any engine idles best; 0 is none.
	LeanPeak float64
}

// ToldTurn is a turn that was told: its number, the cylinder, and how far out; cylinder 0 is none.
type ToldTurn struct {
	Number, Of int
	Out        float64
}

// TooFarApart reports whether settings ended more than MostApart from each other: before a screw is done,
// or while one stands in a trial position, nothing has ended.
func (s *TrimState) TooFarApart() bool {
	pilots := s.Pilots[:s.Cylinders]
	return s.Apart > MostApart && slices.ContainsFunc(pilots, func(p Pilot) bool { return p.Found.Final() }) &&
		!slices.ContainsFunc(pilots, func(p Pilot) bool { return p.InTrial() })
}

// Far reports whether the turn that is told ends further than FreeTurns from where the screw stood.
func (s *TrimState) Far() bool { return math.Abs(s.Goal) > FreeTurns }

// Current returns the screw being trimmed, nil for none.
func (s *TrimState) Current() *Pilot {
	if s.Cylinder == 0 {
		return nil
	}
	return &s.Pilots[s.Cylinder-1]
}

// widestGap returns the largest difference between the settings, NaN where fewer than two are known.
func (s *TrimState) widestGap() float64 {
	low, high, n := math.Inf(1), math.Inf(-1), 0
	for i := range s.Cylinders {
		if out := s.Pilots[i].Out; !math.IsNaN(out) {
			low, high = min(low, out), max(high, out)
			n++
		}
	}
	if n < 2 {
		return math.NaN()
	}
	return high - low
}
