package mixture

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
)

// Constants of the idle speed's advice.
const (
	// lookS is how long a speed is looked at before it counts, s. Chosen: three times the wander's time constant.
	lookS = 5.0
	// askS is how long a turn that was told may stay unseen before the speed is looked at
	// anew, s. Chosen: the hand's few seconds, and what a small turn takes to show.
	askS = 12.0
	// settleS is how long the speed takes to settle after a turn: three time constants.
	settleS = 3 * responseS
	// tryTurns is what a throttle stop of unknown effect is turned by; no more while no turn shows, as nobody may have
	// turned it. Chosen: moves a lively stop's idle by a tenth at most.
	tryTurns = 0.125
	// awayTurns is how many turns in a row must lead away for the stop to count as one that works the other way.
	// Chosen: once may have been the idle's own wander, or its fall after a blip.
	awayTurns = 2
	// swings is how many times as far as in the look before a speed must have moved to have been led away. Chosen.
	swings = 2.0
	// mostStopTurns is the most that is asked for at once. Chosen: after it there is another look.
	mostStopTurns = 0.5
	// usualEffect is the assumed effect of a stop of which nothing is known, rpm a clockwise turn, and usualDoubt the
	// relative standard deviation of that. Chosen: clockwise opens the butterflies on most bikes (common practice).
	usualEffect, usualDoubt = 300.0, 0.7
	// handDoubt is the relative standard deviation of a turn made by hand.
	// Derived: up to a quarter more or less, uniform.
	handDoubt = 0.15
	// shownEffect is the relative standard deviation below which an effect counts as known.
	shownEffect = 0.4
	// marginShare is the largest share of the range by which a speed that was within it may be outside at either end
	// before a turn is told: what its uncertainty explains, or the wander would call for turns back and forth.
	marginShare = 0.25
	// leastRange is the width to which a narrower range is widened, rpm. Chosen: an eighth
	// of a turn moves an idle by about as much.
	leastRange = 50.0
	// The speed has been moved when it is moveSigmas standard errors, and leastMove rpm, from where it was. Chosen: a
	// false alarm costs ten seconds, and so does a turn that is not seen.
	moveSigmas, leastMove = 3.5, 12.0
	// A speed that has moved towards its range by leastMove, and backSigmas standard errors, from one half of a look to
	// the other comes back by itself, for mostBackS at most. Chosen: an idle falls for ten seconds after a blip; one
	// look in six of an idle that wanders takes half a look longer.
	backSigmas, mostBackS = 1.0, 20.0
	// handS is how late eye and hand are.
	handS = 0.4
	// A slope is taken from two halves of slopeCycles each. Chosen: half a second.
	slopeCycles = 4
)

// moveLooks are the numbers of cycles whose mean is compared with the speed before: few show a
// large move, many a small one.
var moveLooks = [...]int{4, 12, 36, 72}

// IdleConfig says what the idle speed should be.
type IdleConfig struct {
	// LowRPM and HighRPM bound the idle speed; both 0 when unknown.
	LowRPM, HighRPM float64
	// EffectRPMPerTurn is what a clockwise turn of the throttle stop does to the speed, from the card; 0 is unknown.
	EffectRPMPerTurn float64
}

// IdleState is what is known of the idle speed, and the thing to do next. Unknown figures are NaN.
type IdleState struct {
	// RPM is the mean since the speed last changed.
	RPM float64
	// LowRPM and HighRPM bound what is wanted, both NaN when unknown.
	LowRPM, HighRPM float64
	// AboutRPM is set where nobody gave that range: the idle that it was made about.
	AboutRPM float64
	// Side is that of RPM; while a turn is told, the side that the turn leads away from.
	Side RangeSide
	// Settled is set when RPM is that of an undisturbed engine, long enough looked at.
	Settled bool
	// EffectRPMPerTurn is what a clockwise turn of the throttle stop does.
	EffectRPMPerTurn float64
	Advice           advice.Advice
}

// idlePhase is where the advice on the throttle stop stands.
type idlePhase int

const (
	looking  idlePhase = iota // where is the speed?
	asking                    // a turn is told; waiting for the speed to move
	turning                   // it moves
	settling                  // hands off
)

// IdleSpeed is the stage that sets the idle speed by the throttle stop. It
// learns what a turn of it does from what its turning does.
type IdleSpeed struct {
	cfg    IdleConfig
	speeds speeds
	effect float64 // rpm a clockwise turn, best guess
	doubt  float64 // its standard deviation
	known  bool    // learned, or from the card

	phase      idlePhase
	since      float64 // when the phase began, s
	now        float64
	told       advice.Advice
	start      float64 // rpm before the turn
	startError float64 // its standard error
	swing      float64 // by how much it moved by itself meanwhile, rpm
	amount     float64 // turns told at first, clockwise positive
	within     bool    // the speed was within its range when looked at last
	ordered    bool    // a turn was told since then
	about      float64 // the idle that the range was made about, rpm; 0 where it was given
	unseen     int     // tries in a row that did not show
	astray     int     // turns in a row that led away
	strayed    float64 // rpm before the first of them
}

// NewIdleSpeed returns a stage that has seen nothing.
func NewIdleSpeed(cfg IdleConfig) *IdleSpeed {
	s := &IdleSpeed{cfg: cfg, effect: usualEffect, doubt: usualDoubt * usualEffect}
	if e := cfg.EffectRPMPerTurn; e != 0 {
		s.effect, s.doubt, s.known = e, shownEffect/2*math.Abs(e), true
	}
	return s
}

// SetRange says what the idle speed should be.
func (s *IdleSpeed) SetRange(low, high float64) {
	s.cfg.LowRPM, s.cfg.HighRPM, s.about, s.within, s.ordered = low, high, 0, false, false
	s.enter(looking)
}

// setAbout keeps the idle about what it is, where nobody has said what it should be.
func (s *IdleSpeed) setAbout(rpm float64) {
	s.SetRange(rpm-idleRoom, rpm+idleRoom)
	s.about = rpm
}

// Restart forgets the speed and what was being done, not what was learned.
func (s *IdleSpeed) Restart() {
	s.speeds.restart()
	s.enter(looking)
}

// settleAnew has the speed settle before it is looked at anew, as after something else was turned that moves it.
func (s *IdleSpeed) settleAnew() {
	s.Restart()
	s.amount = 0
	s.told = advice.New(advice.Wait, advice.ThrottleStop, advice.WhyMeasuring)
	s.enter(settling)
}

func (s *IdleSpeed) enter(p idlePhase) { s.phase, s.since = p, s.now }

// Push takes the next span and returns the state as of its end.
func (s *IdleSpeed) Push(span *cycle.Span) IdleState {
	s.now = span.End()
	if !s.speeds.push(span) {
		s.enter(looking)
		why := advice.WhyNotSteady
		if !span.Cycle {
			why = advice.WhyNoCycle
		}
		return s.state(advice.New(advice.Wait, advice.ThrottleStop, why))
	}
	switch s.phase {
	case asking:
		return s.state(s.ask())
	case turning:
		return s.state(s.follow())
	case settling:
		return s.state(s.settle())
	}
	return s.state(s.look())
}

// state fills in all that goes with an advice.
func (s *IdleSpeed) state(a advice.Advice) IdleState {
	nan := math.NaN()
	st := IdleState{RPM: s.speeds.mean(s.speeds.cycles()), LowRPM: nan, HighRPM: nan, EffectRPMPerTurn: nan, Advice: a}
	if s.cfg.HighRPM > 0 {
		st.LowRPM, st.HighRPM, st.AboutRPM = s.cfg.LowRPM, s.cfg.HighRPM, s.about
		switch st.Side = s.sideOf(st.RPM, 0); { // a turn may be told of a speed that is within, and may wander out
		case a.Kind == advice.Turn && s.start > (s.cfg.LowRPM+s.cfg.HighRPM)/2:
			st.Side = Above
		case a.Kind == advice.Turn:
			st.Side = Below
		}
	}
	if s.known {
		st.EffectRPMPerTurn = s.effect
	}
	st.Settled = s.ready() && (s.phase == looking || s.phase == asking)
	return st
}

// bounds returns the range, widened to what a hand can set.
func (s *IdleSpeed) bounds() (low, high float64) {
	low, high = s.cfg.LowRPM, s.cfg.HighRPM
	if short := leastRange - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	return low, high
}

// sideOf tells on which side of the range, narrowed by a margin at either end, a speed lies.
func (s *IdleSpeed) sideOf(rpm, margin float64) RangeSide {
	low, high := s.bounds()
	switch {
	case math.IsNaN(rpm):
		return SideUnknown
	case rpm < low+margin:
		return Below
	case rpm > high-margin:
		return Above
	}
	return Within
}

// ready reports whether the speed has been looked at for long enough.
func (s *IdleSpeed) ready() bool { return s.speeds.seconds() >= lookS }

// look tells the turn that the speed needs, if any, once it has been looked at for long enough.
func (s *IdleSpeed) look() advice.Advice {
	switch {
	case !s.ready():
		return advice.New(advice.Wait, advice.ThrottleStop, advice.WhyFewCycles)
	}
	if s.keepRecent(); s.cfg.HighRPM <= 0 {
		return advice.New(advice.Wait, advice.ThrottleStop, advice.WhyNoRange)
	}
	if s.comesBack() {
		return advice.New(advice.Wait, advice.ThrottleStop, advice.WhyNotSteady)
	}
	n := s.speeds.cycles()
	rpm, doubt := s.speeds.mean(n), s.speeds.standardError(n)
	low, high := s.bounds()
	margin := 0.0
	switch m := min(1.96*doubt, marginShare*(high-low)); {
	case s.within:
		margin = m
	case s.ordered: // its own wander into the range is no answer to a turn
		margin = -m
	}
	s.within = s.sideOf(rpm, -margin) == Within
	if s.unseen == 0 || s.within || (rpm > high) != (s.start > high) { // tries that did not show add up
		s.start, s.startError, s.swing = rpm, doubt, 2*math.Abs(s.speeds.mean(n/2)-rpm)
	}
	if s.within {
		s.ordered, s.unseen = false, 0
		return advice.New(advice.Done, advice.ThrottleStop, advice.WhyWithin)
	}
	s.told = s.order((low+high)/2 - rpm)
	s.enter(asking)
	return s.told
}

// comesBack reports whether the speed still moves towards its range by itself, as after a blip; what came before the
// later half of the look then counts no more.
func (s *IdleSpeed) comesBack() bool {
	half := s.speeds.cycles() / 2
	rpm := s.speeds.mean(2 * half)
	by := 2 * (s.speeds.mean(half) - rpm) // from the earlier half to the later
	low, high := s.bounds()
	if s.now-s.since > mostBackS || !(rpm > high && by < 0 || rpm < low && by > 0) ||
		math.Abs(by) < max(leastMove, backSigmas*math.Sqrt2*s.speeds.seriesError(half, 0)) {
		return false
	}
	s.speeds.first = s.speeds.next - half
	return true
}

// keepRecent bounds what a look averages over: twice lookS.
func (s *IdleSpeed) keepRecent() {
	for s.speeds.seconds() > 2*lookS {
		s.speeds.first++
	}
}

// order tells the turn that moves the speed by wanted.
func (s *IdleSpeed) order(wanted float64) advice.Advice {
	a := advice.New(advice.Turn, advice.ThrottleStop, advice.WhyLow)
	if wanted < 0 {
		a.Why = advice.WhyHigh
	}
	turns := wanted / s.effect
	a.Direction = advice.WayOf(turns)
	a.Turns = min(roundToEighths(turns), mostStopTurns)
	if s.doubt > shownEffect*math.Abs(s.effect) {
		a.Turns, a.Why = min(a.Turns, tryTurns), advice.WhyTry
		a.Again = s.unseen > 0
	}
	s.amount, s.ordered = a.SignedTurns(), true
	return a
}

// roundToEighths rounds an amount to whole eighths of a turn, at least one.
func roundToEighths(turns float64) float64 { return max(math.Round(math.Abs(turns)*8), 1) / 8 }

// moved returns how far the speed is from where it was, 0 when that may be its own wander.
func (s *IdleSpeed) moved() float64 {
	for _, n := range moveLooks {
		if n > s.speeds.cycles() {
			break
		}
		off := s.speeds.mean(n) - s.start
		if math.Abs(off) > max(leastMove, moveSigmas*math.Hypot(s.speeds.standardError(n), s.startError)) {
			return off
		}
	}
	return 0
}

// ask waits for the speed to move. What stays unseen is looked at anew, without a word to a hand that may not be there.
func (s *IdleSpeed) ask() advice.Advice {
	if s.moved() != 0 {
		s.enter(turning)
		return s.follow()
	}
	if s.now-s.since > askS {
		s.unseen++
		s.enter(looking)
		return s.look()
	}
	return s.told
}

// follow watches the stop being turned, and says when to take the hand off.
func (s *IdleSpeed) follow() advice.Advice {
	low, high := s.bounds()
	middle := (low + high) / 2
	toward := 1.0
	if s.start > middle {
		toward = -1
	}
	now := s.speeds.mean(slopeCycles)
	slope := s.speeds.slope(slopeCycles)
	if (now-s.start)*toward < -max(leastMove, swings*s.swing) && s.moved()*toward < 0 {
		if s.astray == 0 || (s.start-s.strayed)*toward > -leastMove { // what a wander took comes back
			s.astray, s.strayed = 0, s.start
		}
		if s.astray++; s.astray < awayTurns {
			return s.tellStop(advice.WhyMeasuring)
		}
		return s.reverse(now, middle)
	}
	soon := now + slope*(handS+responseS)
	if toward*(now-middle) > 0 || toward*(soon-middle) > 0 {
		s.astray = 0
		return s.tellStop(advice.WhyReached)
	}
	if s.now-s.since > lookS || s.told.Why == advice.WhyTry && s.now-s.since > handS {
		return s.tellStop(advice.WhyMeasuring)
	}
	return s.told
}

// tellStop tells to take the hand off.
func (s *IdleSpeed) tellStop(why advice.Why) advice.Advice {
	s.told.Kind, s.told.Why, s.told.Turns = advice.Stop, why, math.NaN()
	s.unseen = 0
	s.enter(settling)
	return s.told
}

// settle waits until the speed has settled, learns, and looks anew.
func (s *IdleSpeed) settle() advice.Advice {
	if s.now-s.since < settleS {
		s.speeds.restart()
		return s.told
	}
	if !s.ready() {
		return s.told
	}
	n := s.speeds.cycles()
	s.learn(s.speeds.mean(n)-s.start, math.Hypot(s.speeds.standardError(n), s.startError))
	s.enter(looking)
	return s.look()
}
