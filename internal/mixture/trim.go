package mixture

import (
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
)

// Trim is the stage that trims the pilot screws, one after the other. It has each turned
// to settings on either side of the best guess, watches the speed at each, and has it set
// where the parabola through them peaks. Between cylinders the throttle stop brings the
// idle back.
//
// A turn is told and given its time, never waited for: near the best a small turn moves the
// speed less than the idle wanders.
type Trim struct {
	cfg      TrimConfig
	idle     *IdleSpeed
	order    []int // cylinders to do, the first being done
	speeds   speeds
	curve    curve
	dynamics dynamics
	last     [2]float64 // speeds of the last two cycles, newest first
	lasts    int        // speeds in last, at this setting

	state         TrimState
	now           float64 // s, as are all times
	began         float64 // when the trim began
	stepSince     float64 // when the step began
	stepSeconds   float64 // that the step has
	cylinderSince float64 // when the cylinder's trim began
	// Of the current screw, in turns out from where it stood: where it is, where it is to
	// go, and its bounds.
	turnedOut, goalOut, lowOut, highOut float64
	side                                float64 // of the best guess that was visited last: +1 out, -1 in
	baseRPM                             float64 // before the first turn
	est                                 estimate
	ownRange                            bool // the idle's range is ours: the card has none
	probe                               probeMeans
	shift                               shift
	lambda                              float64 // the probe's last
}

// NewTrim returns a stage that trims. idle is the stage that brings back the idle speed: it must be
// pushed each span first.
func NewTrim(cfg TrimConfig, idle *IdleSpeed) *Trim {
	t := &Trim{cfg: cfg.withDefaults(), idle: idle, dynamics: usualDynamics(), ownRange: idle.cfg.HighRPM == 0}
	nan := math.NaN()
	t.state = TrimState{Cylinders: cfg.Cylinders, LeftS: nan, RPM: nan, Apart: nan}
	for i := range cfg.Cylinders {
		out := nan
		if i < len(cfg.TurnsOut) {
			out = cfg.TurnsOut[i]
		}
		t.state.Pilots[i] = Pilot{Cylinder: i + 1, StartOut: out, Out: out, Best: nan, Uncertainty: nan, GainRPM: nan,
			Lambda: nan}
		if cfg.Only == nil || slices.Contains(cfg.Only, i+1) {
			t.order = append(t.order, i+1)
		}
	}
	t.probe.delay = t.cfg.ProbeDelayS
	t.enter(StepIdle, math.NaN())
	idle.Restart()
	return t
}

func (t *Trim) enter(s Step, seconds float64) {
	t.state.Step, t.stepSince, t.stepSeconds = s, t.now, seconds
}

// current is the cylinder being trimmed, 0 when all are done.
func (t *Trim) current() int {
	if len(t.order) == 0 {
		return 0
	}
	return t.order[0]
}

func (t *Trim) pilot() *Pilot { return &t.state.Pilots[t.current()-1] }

// Made tells that the hand has made the turn that was told.
func (t *Trim) Made() {
	if t.state.Step == StepTurn || t.state.Step == StepSet {
		t.stepSeconds = t.now - t.stepSince
	}
}

// Push takes the next span, what idle said of it, and the probe's lambda, NaN without one. It
// returns the state as of the span's end.
func (t *Trim) Push(span *cycle.Span, idle *IdleState, lambda float64) TrimState {
	t.now, t.lambda = span.End(), lambda
	if t.began == 0 {
		t.began, t.stepSince = span.Start, span.Start
	}
	if span.Cycle {
		t.state.IdlingS += span.Period
	}
	if !t.speeds.push(span) {
		t.whileUnsteady(span)
		return t.state
	}
	if t.state.RPM = t.speeds.mean(slopeCycles); t.state.Step == StepWatch || t.state.Step == StepBase {
		t.keepCycle(span, lambda)
	}
	t.last[1], t.last[0] = t.last[0], span.RPM()
	t.lasts++
	t.advance(idle)
	t.fillState()
	return t.state
}

// fillState fills in the figures that every state has.
func (t *Trim) fillState() {
	s := &t.state
	s.Cylinder = t.current()
	if s.Step == StepIdle || s.Step == StepAllSet {
		s.Cylinder = 0
	}
	s.LeftS = max(t.stepSeconds-(t.now-t.stepSince), 0)
	s.Apart = s.widestGap()
	s.RicherKnown = t.cfg.Screws != UnknownScrews && s.Advice.Part == advice.PilotScrew &&
		s.Advice.Direction != advice.UnknownWay
	s.Richer = s.RicherKnown && (s.Advice.Direction == advice.Anticlockwise) == (t.cfg.Screws == FuelScrews)
}

// keepCycle adds a cycle to the curve, if the two cycles before are of the same setting.
func (t *Trim) keepCycle(span *cycle.Span, lambda float64) {
	t.probe.push(t.now, t.turnedOut, lambda, t.stepSince)
	if t.lasts >= 2 {
		t.curve.push(span.RPM(), t.last[0], t.last[1], t.turnedOut, t.now)
	}
}

// whileUnsteady says what to do while the speed is not an idle's.
func (t *Trim) whileUnsteady(span *cycle.Span) {
	t.lasts, t.state.RPM = 0, math.NaN()
	why := advice.WhyNotSteady
	if !span.Cycle {
		why = advice.WhyNoCycle
	}
	switch t.state.Step {
	case StepWatch:
		if why == advice.WhyNoCycle && t.turnedOut != 0 {
			t.retreat(advice.WhyStalled)
			t.fillState()
			return
		}
		t.stepSince = t.now
	case StepTurn, StepSet: // a standing engine's screw is turned as well
		if t.now-t.stepSince < t.stepSeconds {
			t.fillState()
			return
		}
	}
	if t.state.Step != StepTurn && t.state.Step != StepSet {
		t.stepSince = t.now
	}
	t.state.Advice = advice.New(advice.Wait, advice.NoPart, why)
	t.fillState()
}

// advance does what the step asks for, and goes on to the next when its time is over.
func (t *Trim) advance(idle *IdleState) {
	over := t.now-t.stepSince >= t.stepSeconds
	switch t.state.Step {
	case StepIdle:
		t.bringIdle(idle)
	case StepBase:
		if t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase); over {
			t.closeVisit()
			t.nextSetting()
		}
		t.state.Advice.Cylinder = t.current()
	case StepTurn, StepSet:
		switch {
		case !over:
		case t.turnedOut != t.goalOut: // the next part of the way
			t.tellTurn(t.goalOut, t.state.Step, t.state.Advice.Why)
		case t.state.Step == StepTurn:
			t.beginWatch()
		default:
			t.closeCylinder()
		}
	case StepWatch:
		t.watching(over)
	case StepAllSet:
		t.state.Advice = advice.New(advice.Done, advice.PilotScrew, advice.WhyTrimmed)
	}
}

// bringIdle lets the throttle stop bring the idle into its range.
func (t *Trim) bringIdle(idle *IdleState) {
	if t.ownRange && t.state.Step == StepIdle && t.idle.cfg.HighRPM == 0 && t.idle.ready() {
		t.idle.setRange(idle.RPM-idleRoom, idle.RPM+idleRoom)
	}
	t.state.Advice = idle.Advice
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
		t.Release()
		t.enter(StepAllSet, math.NaN())
		t.state.Advice = advice.New(advice.Done, advice.PilotScrew, advice.WhyTrimmed)
		return
	}
	t.beginCylinder(idle.RPM)
}

// Release gives the idle's stage back as it was: without a range if the card has none.
func (t *Trim) Release() {
	if t.ownRange {
		t.idle.setRange(0, 0)
	}
}

// beginCylinder begins the current cylinder at a speed of about rpm.
func (t *Trim) beginCylinder(rpm float64) {
	p := t.pilot()
	p.Found = Trimming
	t.turnedOut, t.side, t.cylinderSince = 0, 0, t.now
	t.lowOut, t.highOut = -mostFromStart, mostFromStart
	if !math.IsNaN(p.StartOut) {
		t.lowOut, t.highOut = min(leastOut-p.StartOut, 0), max(mostOut-p.StartOut, 0)
	}
	t.state.Points, t.state.NPoints = [MaxPoints]Point{}, 0
	t.est = estimate{}
	t.baseRPM = rpm
	t.curve.clear(rpm, t.now)
	t.probe.clear()
	t.lasts = 0
	t.enter(StepBase, baseS)
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase)
	t.state.Advice.Cylinder = t.current()
}

// tellTurn tells to turn the screw to so many turns out from its start, and gives the hand its
// time. A way longer than MostTurns is told in parts.
func (t *Trim) tellTurn(to float64, s Step, why advice.Why) {
	t.goalOut = to
	if m := t.cfg.MostTurns; m > 0 && math.Abs(to-t.turnedOut) > m {
		to = t.turnedOut + math.Copysign(m, to-t.turnedOut)
	}
	a := advice.New(advice.Turn, advice.PilotScrew, why)
	a.Cylinder = t.current()
	a.Turns = math.Abs(to - t.turnedOut)
	a.Direction = advice.WayOf(t.turnedOut - to) // outwards is anticlockwise
	if a.Turns == 0 {
		a.Direction = advice.UnknownWay
	}
	t.turnedOut = to
	p := t.pilot()
	p.Moved, p.Out = to, p.StartOut+to
	t.state.Advice = a
	seconds := t.cfg.HandS + turnS*a.Turns
	if t.cfg.Confirm {
		seconds = math.Inf(1)
	}
	if a.Turns == 0 {
		seconds = 0
	}
	t.enter(s, seconds)
}

// beginWatch begins to watch the speed at a setting.
func (t *Trim) beginWatch() {
	t.lasts = 0
	t.speeds.restart()
	t.enter(StepWatch, t.cfg.WatchS)
	t.tellHandsOff()
}

func (t *Trim) tellHandsOff() {
	t.state.Advice = advice.New(advice.Hold, advice.PilotScrew, advice.WhyMeasuring)
	t.state.Advice.Cylinder = t.current()
}

// watching watches the speed at a setting until its time is over.
func (t *Trim) watching(over bool) {
	t.tellHandsOff()
	if t.speeds.cycles() >= slopeCycles && t.state.RPM < leastSpeedShare*t.baseRPM && t.turnedOut != 0 {
		t.closeVisit()
		t.retreat(advice.WhyBack)
		return
	}
	if over {
		t.closeVisit()
		t.nextSetting()
	}
}

// retreat leaves a setting that the engine does not bear, and won't go there again.
func (t *Trim) retreat(why advice.Why) {
	to := 0.0
	if t.turnedOut > 0 {
		t.highOut = max(t.turnedOut-t.cfg.Step, 0)
	} else {
		t.lowOut = min(t.turnedOut+t.cfg.Step, 0)
	}
	t.tellTurn(to, StepTurn, why)
}
