package mixture

import (
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/touched"
)

// Trim is the stage that trims the pilot screws, one after the other. It has each turned to settings on either side of
// the best guess, watches the speed at each, and has it set where the laws that fit them peak. Between cylinders and
// after the last the throttle stop brings the idle back.
//
// A turn is told, and counts once the hand has confirmed it (Made): when the speed changes, or nothing comes for
// long, it is asked whether it is made. No turn in leads further than the screw surely stands off its seat (sure.go).
// While the engine stands the trim stands still, and comes back to the screw and the question where it was.
type Trim struct {
	cfg      TrimConfig
	idle     *IdleSpeed
	order    []int // cylinders to do, the first being done
	speeds   speeds
	curve    curve
	dynamics dynamics
	last     [2]float64 // speeds of the last two cycles, newest first
	lasts    int        // speeds in last, at this setting
	noise    innovations

	state       TrimState
	now         float64 // s, as are all times
	began       float64 // when the trim began
	stepSince   float64 // when the step began
	stepSeconds float64 // that the step has; infinite where it waits
	// Of the current screw, in turns out from where it stood: where it is, and its bounds.
	turnedOut, lowOut, highOut float64
	doubtBefore                float64 // its Doubt before its looks
	far                        bool    // it may go further than FreeTurns
	anew                       bool    // it begins anew, as a turn of it was not made as confirmed
	baseRPM                    float64 // before the first turn
	est                        estimate
	turn                       turn
	said                       turn // the one that was confirmed last
	ownRange                   bool // the idle's range is ours: the card has none
	probe                      probeMeans
	shift                      shift
	again                      again
	grid                       grid
	foretold                   foretold
	doubted                    doubted
	paces                      touched.Paces
	aim                        aim
	lambda                     float64 // the probe's last

	held        belief  // of the speed before the first turn, rpm; sd 0 is nothing
	askAt       float64 // when it is asked next whether the peak is sure
	interrupted bool    // something came between: what is under way begins anew
	hot         bool    // the engine was told to stand
	burns       int     // cycles of the current cylinder's looks
	unburnt     int     // and those in which it did not fire
	started     float64 // when the engine ran again after it had stood
	ran         float64 // when it ran last
	stops       int     // how often the engine stopped by itself at this setting
	rest        rest
	stalled     stalled
	look        look                       // since the last turn was made
	restless    bool                       // the idle moves by itself
	borne       [bank.MaxCylinders]float64 // turns out of each screw that the speed has borne out
}

// NewTrim returns a stage that trims. idle is the stage that brings back the idle speed: it must be
// pushed each span first.
func NewTrim(cfg TrimConfig, idle *IdleSpeed) *Trim {
	t := &Trim{cfg: cfg.withDefaults(), idle: idle, ownRange: idle.cfg.HighRPM == 0,
		dynamics: dynamics{back: belief{1, returnShare}}}
	nan := math.NaN()
	t.state = TrimState{Cylinders: cfg.Cylinders, LeftS: nan, RPM: nan, Apart: nan, Goal: nan, Target: cfg.Target,
		LambdaOf: cfg.LambdaOf}
	for i := range cfg.Cylinders {
		out := nan
		if i < len(cfg.TurnsOut) {
			out = cfg.TurnsOut[i]
		}
		p := NewPilot(i+1, out)
		if i < len(cfg.Earlier) && cfg.Earlier[i].Cylinder == i+1 {
			if p = cfg.Earlier[i]; p.InTrial() {
				p.Doubt = 0 // where it stands was shown, and whether to go on from there asked
			}
		}
		t.state.Pilots[i] = p
		if !p.Found.Final() && (cfg.Only == nil || slices.Contains(cfg.Only, i+1)) {
			t.order = append(t.order, i+1)
		}
	}
	t.probe.delay, t.shift.answer = t.cfg.ProbeDelayS, noAnswers
	t.enter(StepIdle, math.NaN())
	idle.Restart()
	return t
}

// current is the cylinder being trimmed, 0 when all are done.
func (t *Trim) current() int {
	if len(t.order) == 0 {
		return 0
	}
	return t.order[0]
}

func (t *Trim) pilot() *Pilot { return &t.state.Pilots[t.current()-1] }

// Interrupt tells that the engine is to stand for a while. The trim comes back to the step where it was.
func (t *Trim) Interrupt() { t.hot, t.interrupted = true, true }

// Push takes the next span, what idle said of it, the probe's lambda, NaN without one, and the budget
// of idling. It returns the state as of the span's end.
func (t *Trim) Push(span *cycle.Span, idle *IdleState, lambda float64, budget *heat.State) TrimState {
	t.now, t.lambda, t.rest.budget = span.End(), lambda, *budget
	if t.began == 0 {
		t.began, t.stepSince = span.Start, span.Start
	}
	t.countIdling(span)
	switch steady := t.speeds.push(span); {
	case t.state.Step == StepRest:
		t.resting()
	case !steady || t.interrupted && t.speeds.cycles() < steadyCycles:
		t.whileUnsteady(span)
	default:
		t.comeBack()
		t.ran = t.now
		t.state.RPM = t.speeds.mean(slopeCycles)
		t.keepCycle(span, lambda)
		t.mindStop(span)
		t.keepAim(lambda)
		t.last[1], t.last[0] = t.last[0], span.RPM()
		t.lasts++
		t.advance(idle)
	}
	t.fillState()
	return t.state
}

// fillState fills in the figures that every state has.
func (t *Trim) fillState() {
	s := &t.state
	s.Cylinder, s.Left = t.current(), len(t.order)
	if s.Step == StepIdle || s.Step == StepAllSet || s.Step == StepRest {
		s.Cylinder = 0
	}
	s.Anew = t.anew && s.Step == StepBase
	s.LeftS = max(t.stepSeconds-(t.now-t.stepSince), 0)
	s.Goal = math.NaN()
	for i := range s.Pilots {
		s.Pilots[i].Open = 0
	}
	if s.Step == StepTurn || s.Step == StepSet {
		s.Goal = t.turn.to
		s.Pilots[s.Cylinder-1].Open = s.Goal - s.Pilots[s.Cylinder-1].Moved
	}
	s.Last = toldTurn(&t.turn)
	if s.Said = toldTurn(&t.said); s.Step != StepTurn && s.Step != StepSet {
		s.Said = s.Last
	}
	s.Apart = s.widestGap()
	s.RicherKnown = t.cfg.Screws != UnknownScrews && s.Advice.Part == advice.PilotScrew &&
		s.Advice.Direction != advice.UnknownWay
	s.Richer = s.RicherKnown && (s.Advice.Direction == advice.Anticlockwise) == (t.cfg.Screws == FuelScrews)
}

// toldTurn is what is told of a turn.
func toldTurn(w *turn) ToldTurn { return ToldTurn{w.number, w.cylinder, w.to - w.from} }

// keepCycle adds a cycle to the curve, if the two cycles before are of the same setting; while a turn
// is told, to what may be of either.
func (t *Trim) keepCycle(span *cycle.Span, lambda float64) {
	if t.lasts < 2 {
		return
	}
	r := t.curve.rowOf(span.RPM(), t.last[0], t.last[1], t.turnedOut, t.now)
	switch t.state.Step {
	case StepWatch, StepBase:
		t.look.push(&r, t.curve.base, span.Period, &t.noise)
		t.probe.push(t.now, t.turnedOut, lambda, t.stepSince)
		t.noise.learn(&r, span.Period, t.speeds.mean(t.speeds.cycles())-t.curve.base)
		t.curve.add(r, span.Period)
		if c := t.current(); c > 0 && span.Misfire[c-1] {
			t.unburnt++
		} else {
			t.burns++
		}
	case StepTurn, StepSet:
		if t.now-t.turn.at < reactS {
			t.look.push(&r, t.curve.base, span.Period, &t.noise)
			t.curve.add(r, span.Period)
		}
		t.turn.answer.push(&r, t.curve.base, span.Period, &t.noise)
		t.turn.pending = append(t.turn.pending, r)
	}
}

// comeBack takes up what was interrupted, once the engine idles again.
func (t *Trim) comeBack() {
	if !t.interrupted {
		return
	}
	t.interrupted, t.hot, t.lasts = false, false, 0
	t.started = t.now
	t.curve.newRun(belief{0, restSD})
	t.foretold = foretold{} // it idles otherwise after it has stood
	t.aim.over = t.cfg.LambdaOf > 0
	t.look.clear(t.curve.base)
	switch t.state.Step {
	case StepTurn, StepSet:
		t.turn.shown = t.now
		t.turn.answer = answer{} // the speed before is none to compare with any more
		t.turn.pending = t.turn.pending[:0]
		t.turn.asked = true // it may have been made meanwhile: told anew it would be made twice
		t.enter(t.state.Step, t.patience())
		t.state.Advice = t.turn.told
		t.state.Advice.Why = advice.WhyTurned
	case StepWatch:
		t.beginWatch()
	default:
		t.enter(t.state.Step, t.stepSeconds)
	}
}

// whileUnsteady says what to do while the speed is not an idle's.
func (t *Trim) whileUnsteady(span *cycle.Span) {
	t.lasts, t.state.RPM = 0, math.NaN()
	if lost := span.Break && !(span.Silence > 0 && span.Silence < shortGapS); lost {
		t.interrupted = true // which is no stop of the engine
	}
	why := advice.WhyNotSteady
	if !span.Cycle {
		why = advice.WhyNoCycle
	}
	if t.stallsInTrial(span) {
		t.bringBack()
		return
	}
	if span.Cycle {
		t.ran = t.now
	}
	if why == advice.WhyNoCycle && !t.interrupted && t.now-t.ran > standsS {
		t.interrupted = true
		if t.stops++; t.state.Step == StepWatch && t.turnedOut != 0 && t.stops > mostStops {
			t.retreat(advice.WhyStalled)
			return
		}
	}
	if t.turn.why == advice.WhyStalled && (t.state.Step == StepTurn) {
		return // it does not run where the screw stands
	}
	if t.state.Step == StepTurn || t.state.Step == StepSet {
		t.turn.asked = true // the turn that is told may be what moves the speed
	}
	t.stepSince = t.now
	t.state.Advice = advice.New(advice.Wait, advice.NoPart, why)
}

// advance does what the step asks for, and goes on to the next when its time is over.
func (t *Trim) advance(idle *IdleState) {
	over := t.now-t.stepSince >= t.stepSeconds
	switch t.state.Step {
	case StepIdle:
		t.bringIdle(idle)
	case StepBase:
		t.lookAtBase(over)
	case StepTurn, StepSet:
		t.awaitTurn(over)
	case StepWatch:
		t.watching(over)
	case StepAllSet:
		t.state.Advice = advice.New(advice.Done, advice.PilotScrew, advice.WhyTrimmed)
	}
}

// lookAtBase watches the speed before the first turn of a screw, which is that after the last turn of the one before.
func (t *Trim) lookAtBase(over bool) {
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase)
	if t.state.Advice.Cylinder = t.current(); t.current() == 0 { // all are set
		t.state.Advice = advice.New(advice.Hold, advice.PilotScrew, advice.WhyMeasuring)
	}
	over = over && (!t.rough() && t.asSet() || t.now-t.stepSince >= roughBaseS)
	if !over || t.lateHand() {
		return
	}
	is, _ := t.look.settled()
	set, anew := t.foretold.cylinder, t.lookBack(is)
	t.foretold = foretold{}
	switch {
	case anew:
		t.trimAnew(set, is.mean)
	case t.current() == 0:
		t.endTrim()
	default:
		t.closeVisit()
		t.nextSetting()
	}
}

// bringIdle lets the throttle stop bring the idle into its range.
func (t *Trim) bringIdle(idle *IdleState) {
	if t.ownRange && t.state.Step == StepIdle && t.idle.cfg.HighRPM == 0 && t.idle.ready() {
		t.idle.setAbout(idle.RPM)
	}
	if t.current() > 0 && t.inTrial() {
		t.beginInTrial()
		return
	}
	if t.state.Advice = idle.Advice; idle.Advice.ToTurn(advice.ThrottleStop) && t.foretold.cylinder > 0 {
		t.broughtBack()
	}
	if idle.Advice.Kind == advice.Wait && idle.Advice.Why == advice.WhyNoRange {
		t.state.Advice.Why = advice.WhyFewCycles
	}
	if idle.Advice.Kind != advice.Done {
		return
	}
	if t.current() == 0 && t.beginShift(t.lambda) {
		return
	}
	if t.current() == 0 {
		if t.state.Advice = advice.New(advice.Hold, advice.PilotScrew, advice.WhyMeasuring); t.probeTold() {
			t.allSet()
		}
		return
	}
	t.held = belief{t.idle.start, math.Hypot(t.idle.startError, wanderSD)}
	t.beginCylinder(t.idle.start)
}

// beginInTrial begins the current cylinder at whatever speed the engine idles, once that has been looked at.
func (t *Trim) beginInTrial() {
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase)
	t.state.Advice.Cylinder = t.current()
	if t.idle.ready() {
		n := t.idle.speeds.cycles()
		rpm := t.idle.speeds.mean(n)
		t.held = belief{rpm, math.Hypot(t.idle.speeds.standardError(n), wanderSD)}
		t.beginCylinder(rpm)
	}
}

// allSet ends the trim.
func (t *Trim) allSet() {
	t.Release()
	t.enter(StepAllSet, math.NaN())
	t.state.Advice = advice.New(advice.Done, advice.PilotScrew, advice.WhyTrimmed)
}

// Release gives the idle's stage back as it was: without a range if the card has none.
func (t *Trim) Release() {
	if t.ownRange {
		t.idle.SetRange(0, 0)
	}
}

// beginCylinder begins the current cylinder at a speed of about rpm, from where its screw stands, or
// has the engine rest first.
func (t *Trim) beginCylinder(rpm float64) {
	if t.beginRest() {
		return
	}
	if t.state.Step == StepIdle {
		t.look.clear(rpm)
	}
	t.anew = false
	p := t.pilot()
	known := p.Found == ToSet && !math.IsNaN(p.Best)
	p.Found, p.Visits = Trimming, 0
	t.turnedOut, t.far, t.stops, t.doubtBefore = p.Moved, false, 0, p.Doubt
	t.bound(p)
	t.state.Points, t.state.NPoints = [MaxPoints]Point{}, 0
	t.est = estimate{}
	t.burns, t.unburnt = 0, 0
	t.baseRPM = rpm
	t.curve.clear(rpm, t.now, t.turnedOut, t.held)
	t.held = belief{}
	t.probe.clear()
	t.lasts = 0
	if known { // the trim was left before the last turn
		p.ToldIn = 0
		t.finishAt(p.Best, foundAt(p.Best, p.Uncertainty))
		return
	}
	if p.ToldIn > 0 {
		t.askFirst()
		return
	}
	t.enter(StepBase, baseS)
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase)
	t.state.Advice.Cylinder = t.current()
}
