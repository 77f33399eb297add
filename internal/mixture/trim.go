package mixture

import (
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
)

// Trim is the stage that trims the pilot screws: one after the other each is turned
// to settings on either side of the best guess, the speed is watched at each, and the
// peak of a parabola through them is where it is set. Between cylinders the
// throttle stop brings the idle back.
//
// A turn is not seen, it is told, and then has its time: a small turn near the best
// moves the speed less than the idle wanders.
type Trim struct {
	cfg      TrimConfig
	idle     *IdleSpeed
	order    []int // cylinders to do, the first being done
	speeds   speeds
	curve    curve
	dynamics dynamics
	last     [2]float64 // speeds of the last two cycles, newest first
	lasts    int

	state  TrimState
	began  float64 // s, the trim
	at     float64 // turns out from the start, of the current screw
	goal   float64 // where it is on its way to
	side   float64 // of the best guess that was looked at last
	low    float64 // bounds of at
	high   float64
	since  float64 // s, the step
	span   float64 // s that the step has
	cylS   float64 // s, the cylinder's begin
	baseOf float64 // rpm before the first turn
	est    estimate
	now    float64
	ranged bool // the idle's range is ours: the card has none
	probe  mixes
	shift  shift
	lambda float64 // told last
}

// NewTrim returns a stage that trims; idle is the stage that brings back the idle
// speed, to which the spans are pushed before they are pushed here.
func NewTrim(cfg TrimConfig, idle *IdleSpeed) *Trim {
	t := &Trim{cfg: cfg.filled(), idle: idle, dynamics: usualDynamics(), ranged: idle.cfg.HighRPM == 0}
	nan := math.NaN()
	t.state = TrimState{Cylinders: cfg.Cylinders, LeftS: nan, RPM: nan, Apart: nan}
	for i := range cfg.Cylinders {
		out := nan
		if i < len(cfg.TurnsOut) {
			out = cfg.TurnsOut[i]
		}
		t.state.Pilots[i] = Pilot{Cylinder: i + 1, StartOut: out, Out: out, Best: nan, Uncertainty: nan, GainRPM: nan, Lambda: nan}
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
	t.state.Step, t.since, t.span = s, t.now, seconds
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
		t.span = t.now - t.since
	}
}

// Push takes the next span, which idle has had before, what idle then said, and the
// probe's lambda, NaN without one; it returns the state as of its end.
func (t *Trim) Push(span *cycle.Span, idle *IdleState, lambda float64) TrimState {
	t.now, t.lambda = span.End(), lambda
	if t.began == 0 {
		t.began, t.since = span.Start, span.Start
	}
	if span.Cycle {
		t.state.IdlingS += span.Period
	}
	if !t.speeds.push(span) {
		t.unsteady(span)
		return t.state
	}
	if t.state.RPM = t.speeds.mean(slopeCycles); t.state.Step == StepWatch || t.state.Step == StepBase {
		t.record(span, lambda)
	}
	t.last[1], t.last[0] = t.last[0], span.RPM()
	t.lasts++
	t.step(idle)
	t.finish()
	return t.state
}

// finish fills in what goes with every state.
func (t *Trim) finish() {
	s := &t.state
	s.Cylinder = t.current()
	if s.Step == StepIdle || s.Step == StepAllSet {
		s.Cylinder = 0
	}
	s.LeftS = max(t.span-(t.now-t.since), 0)
	s.Apart = s.apart()
	s.RicherKnown = t.cfg.Screws != UnknownScrews && s.Advice.Part == advice.PilotScrew && s.Advice.Direction != advice.UnknownWay
	s.Richer = s.RicherKnown && (s.Advice.Direction == advice.Anticlockwise) == (t.cfg.Screws == FuelScrews)
}

// record takes a cycle into the curve, when the two before belong to the same
// setting.
func (t *Trim) record(span *cycle.Span, lambda float64) {
	t.probe.push(t.now, t.at, lambda, t.since)
	if t.lasts >= 2 {
		t.curve.push(span.RPM(), t.last[0], t.last[1], t.at, t.now)
	}
}

// unsteady says what to do while the speed is not an idle's.
func (t *Trim) unsteady(span *cycle.Span) {
	t.lasts, t.state.RPM = 0, math.NaN()
	why := advice.WhyNotSteady
	if !span.Cycle {
		why = advice.WhyNoCycle
	}
	switch t.state.Step {
	case StepWatch:
		if why == advice.WhyNoCycle && t.at != 0 {
			t.retreat(advice.WhyStalled)
			t.finish()
			return
		}
		t.since = t.now
	case StepTurn, StepSet: // a standing engine's screw is turned as well
		if t.now-t.since < t.span {
			t.finish()
			return
		}
	}
	if t.state.Step != StepTurn && t.state.Step != StepSet {
		t.since = t.now
	}
	t.state.Advice = advice.New(advice.Wait, advice.NoPart, why)
	t.finish()
}

// step moves the trim on.
func (t *Trim) step(idle *IdleState) {
	over := t.now-t.since >= t.span
	switch t.state.Step {
	case StepIdle:
		t.bringIdle(idle)
	case StepBase:
		if t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase); over {
			t.visited()
			t.next()
		}
		t.state.Advice.Cylinder = t.current()
	case StepTurn, StepSet:
		switch {
		case !over:
		case t.at != t.goal: // the next part of the way
			t.tell(t.goal, t.state.Step, t.state.Advice.Why)
		case t.state.Step == StepTurn:
			t.watch()
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
	if t.ranged && t.state.Step == StepIdle && t.idle.cfg.HighRPM == 0 && t.idle.ready() {
		t.idle.SetRange(idle.RPM-idleRoom, idle.RPM+idleRoom)
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
	t.begin(idle.RPM)
}

// Release gives the idle's stage back as it was: without a range, when the card has
// none.
func (t *Trim) Release() {
	if t.ranged {
		t.idle.SetRange(0, 0)
	}
}

// begin begins the current cylinder at a speed of about rpm.
func (t *Trim) begin(rpm float64) {
	p := t.pilot()
	p.Found = Trimming
	t.at, t.side, t.cylS = 0, 0, t.now
	t.low, t.high = -mostAway, mostAway
	if !math.IsNaN(p.StartOut) {
		t.low, t.high = min(LeastOut-p.StartOut, 0), max(MostOut-p.StartOut, 0)
	}
	t.state.Points, t.state.NPoints = [MaxPoints]Point{}, 0
	t.est = estimate{}
	t.baseOf = rpm
	t.curve.clear(rpm, t.now)
	t.probe.clear()
	t.lasts = 0
	t.enter(StepBase, baseS)
	t.state.Advice = advice.New(advice.Wait, advice.PilotScrew, advice.WhyBase)
	t.state.Advice.Cylinder = t.current()
}

// tell tells to turn the screw to a place in turns out from its start, and gives the
// hand its time. A way longer than MostTurns is told in parts.
func (t *Trim) tell(to float64, s Step, why advice.Why) {
	t.goal = to
	if m := t.cfg.MostTurns; m > 0 && math.Abs(to-t.at) > m {
		to = t.at + math.Copysign(m, to-t.at)
	}
	a := advice.New(advice.Turn, advice.PilotScrew, why)
	a.Cylinder = t.current()
	a.Turns = math.Abs(to - t.at)
	a.Direction = advice.WayOf(t.at - to) // outwards is anticlockwise
	if a.Turns == 0 {
		a.Direction = advice.UnknownWay
	}
	t.at = to
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

// watch begins to watch the speed at a setting.
func (t *Trim) watch() {
	t.lasts = 0
	t.speeds.restart()
	t.enter(StepWatch, t.cfg.WatchS)
	t.hold()
}

func (t *Trim) hold() {
	t.state.Advice = advice.New(advice.Hold, advice.PilotScrew, advice.WhyMeasuring)
	t.state.Advice.Cylinder = t.current()
}

// watching watches the speed at a setting until its time is over.
func (t *Trim) watching(over bool) {
	t.hold()
	if t.speeds.cycles() >= slopeCycles && t.state.RPM < deepFall*t.baseOf && t.at != 0 {
		t.visited()
		t.retreat(advice.WhyBack)
		return
	}
	if over {
		t.visited()
		t.next()
	}
}

// retreat leaves a setting that the engine does not bear, and won't go there again.
func (t *Trim) retreat(why advice.Why) {
	to := 0.0
	if t.at > 0 {
		t.high = max(t.at-t.cfg.Step, 0)
	} else {
		t.low = min(t.at+t.cfg.Step, 0)
	}
	t.tell(to, StepTurn, why)
}
