package session

import (
	"fmt"
	"math"
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/airleak"
	"evendraw/internal/capture"
	"evendraw/internal/cycle"
	"evendraw/internal/frame"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/probe"
	"evendraw/internal/raised"
)

// LambdaConfig is a wide-band lambda probe on one of the board's channels.
type LambdaConfig struct {
	Channel int
	Probe   probe.Probe
	// Of is the cylinder whose exhaust it is in, 0 for that of all.
	Of int
	// StoichAFR is the fuel's stoichiometric air/fuel ratio.
	StoichAFR float64
}

// Tune is what the stages after levelling say. It is a copy: it never changes.
type Tune struct {
	// Idle is the idle speed's state, and what the throttle stop wants: it counts
	// when the bank is level.
	Idle mixture.IdleState
	// Trim and Raised are those of the pilot screws and of the raised-speed look, nil
	// unless they are under way or just done.
	Trim *mixture.TrimState
	// Pilots are the pilot screws as they stand by all trims of the run, by cylinder - 1, nil
	// before the first: a trim that was left goes on with them.
	Pilots []mixture.Pilot
	Raised *raised.State
	// Lambda is what the probe tells, nil without one.
	Lambda *probe.State
	// Air is what the watch for air leaks says, nil while there is none.
	Air *airleak.State
}

// tuning holds the stages after levelling.
type tuning struct {
	idle   *mixture.IdleSpeed
	trim   *mixture.Trim
	raised *raised.Look
	lambda *probe.Stage
	air    *airleak.Watch
	volts  float64 // that a count of the lambda channel stands for
	// settingIdle is set while the idle speed is being set on a level bank.
	settingIdle bool
	held        bool // they stand still
	state       Tune
}

func newTuning(cfg *Config, a *frame.Announcement) tuning {
	t := tuning{idle: mixture.NewIdleSpeed(cfg.Idle)}
	if l := cfg.Lambda; l != nil && a != nil && l.Channel < len(a.Channels) {
		t.lambda = probe.New(l.Probe, l.Of, l.StoichAFR)
		t.volts = float64(a.ReferenceMV) / 1000 / float64(int(1)<<a.Bits)
	}
	return t
}

// pushCount gives the probe's stage the count of its channel.
func (t *tuning) pushCount(now float64, count uint16) {
	t.lambda.Push(now, (float64(count)+0.5)*t.volts)
}

// push gives all stages a span. While the engine is to stand and cool they stand still, and come
// back to where they were.
func (t *tuning) push(s *cycle.Span, h *heat.State) {
	if t.air != nil {
		st := t.air.Push(s)
		t.state.Air = &st
	}
	if h.Hot {
		t.hold()
		return
	}
	if t.held {
		t.held = false
		t.idle.Restart()
	}
	t.state.Idle = t.idle.Push(s)
	lambda := math.NaN()
	if t.lambda != nil {
		p := t.lambda.State()
		t.state.Lambda, lambda = &p, p.Lambda
	}
	if t.trim != nil {
		st := t.trim.Push(s, &t.state.Idle, lambda, h)
		t.state.Trim = &st
		t.state.Pilots = slices.Clone(st.Pilots[:st.Cylinders])
	}
	if t.raised != nil {
		st := t.raised.Push(s)
		t.state.Raised = &st
	}
}

// hold has all stages say that they wait for the engine to cool.
func (t *tuning) hold() {
	t.held = true
	hot := advice.New(advice.Wait, advice.NoPart, advice.WhyHot)
	t.state.Idle.Advice = hot
	if t.trim != nil && t.state.Trim != nil {
		st := *t.state.Trim
		st.Advice, st.LeftS = hot, math.NaN()
		t.state.Trim = &st
		t.trim.Interrupt()
	}
	if t.raised != nil && t.state.Raised != nil {
		st := *t.state.Raised
		st.Advice = hot
		t.state.Raised = &st
	}
}

// lambdaOfFrame gives the probe's count of a frame to its stage.
func (c *Chain) lambdaOfFrame(f *frame.Frame, now float64) {
	if c.tune.lambda != nil && c.cfg.Lambda.Channel < f.N {
		c.tune.pushCount(now, f.Counts[c.cfg.Lambda.Channel])
	}
}

// lambdaOfRow gives the probe's volts of a table's row to its stage.
func (c *Chain) lambdaOfRow(t *capture.Table, r *capture.Row) {
	if c.tune.lambda != nil && t.Quantity == capture.Volts && c.cfg.Lambda.Channel < len(r.Values) {
		c.tune.lambda.Push(r.Time, r.Values[c.cfg.Lambda.Channel])
	}
}

// Tune returns what the stages after levelling say.
func (c *Chain) Tune() Tune { return c.tune.state }

// RestartIdle has the idle speed looked at anew, as after something else was
// turned. What was learned of the throttle stop stays.
func (c *Chain) RestartIdle() {
	if c.tune.idle != nil {
		c.tune.idle.Restart()
	}
}

// SetIdleRange says what the idle speed should be.
func (c *Chain) SetIdleRange(low, high float64) {
	c.cfg.Idle.LowRPM, c.cfg.Idle.HighRPM = low, high
	if c.tune.idle != nil {
		c.tune.idle.SetRange(low, high)
	}
}

// StartTrim begins to trim the pilot screws. The number of cylinders and, with a probe, the
// cylinder whose exhaust it is in are filled into cfg. A raised-speed look ends.
func (c *Chain) StartTrim(cfg mixture.TrimConfig) error {
	if c.tune.idle == nil {
		return fmt.Errorf("no frames yet, trimming needs a board that sends")
	}
	cfg.Cylinders = c.bank.Cylinders
	if c.cfg.Lambda == nil {
		cfg.Target = 0
	} else {
		cfg.LambdaOf = c.cfg.Lambda.Of
	}
	c.StopTrim()
	c.tune.raised, c.tune.state.Raised, c.tune.state.Trim = nil, nil, nil
	if cfg.Earlier == nil {
		cfg.Earlier = c.tune.state.Pilots
	}
	c.tune.trim = mixture.NewTrim(cfg, c.tune.idle)
	return nil
}

// SetPilots takes up what earlier trims have told of the pilot screws.
func (c *Chain) SetPilots(p []mixture.Pilot) { c.pilots, c.tune.state.Pilots = p, p }

// TrimAnew has all pilot screws trimmed anew from where they stand.
func (c *Chain) TrimAnew() {
	var anew []mixture.Pilot
	for i := range c.tune.state.Pilots {
		anew = append(anew, c.tune.state.Pilots[i].Anew())
	}
	c.SetPilots(anew)
}

// PutPilotsBack tells that the pilot screws that were left in a trial position have been turned back. A trim ends.
func (c *Chain) PutPilotsBack() {
	c.StopTrim()
	back := slices.Clone(c.tune.state.Pilots)
	for i := range back {
		if back[i].Astray() {
			back[i].PutBack()
		}
	}
	c.SetPilots(back)
}

// PastSeat reports whether that turn of a pilot screw, made by so many turns, would lead it past its seat.
func (c *Chain) PastSeat(number int, turns float64) bool {
	return c.tune.trim != nil && c.tune.trim.PastSeat(number, turns)
}

// CorrectTrim tells that the turn of a pilot screw of that number was made by another amount than told, in turns, below
// 0 the other way. It reports false where there was none.
func (c *Chain) CorrectTrim(number int, turns float64) bool {
	return c.tune.trim != nil && c.tune.trim.CorrectTurn(number, turns)
}

// TrimMade tells that the hand says that the turn is made that the trim told. It reports false where it can't
// be yet.
func (c *Chain) TrimMade() bool { return c.tune.trim == nil || c.tune.trim.Made() }

// Seconds of idling that the watch for air leaks, and the look at a raised speed, need. Derived: four joints, each
// wetted, waited for and dried; the idle, the way up, the hold and the way down, which count double.
const airNeeds, raisedNeeds = 60, 25

// restBefore has the engine stand and cool first where too little idling is left for something that needs so many
// seconds, unless a cool-down would give no more.
func (c *Chain) restBefore(needs float64) {
	c.heat.Hot = c.heat.Hot || c.heat.LeftS() < needs && c.heat.RestedS() > needs
}

// WatchAir begins or ends the watch for air leaks. See restBefore.
func (c *Chain) WatchAir(on bool) {
	if c.tune.air, c.tune.state.Air = nil, nil; on {
		c.restBefore(airNeeds)
		c.tune.air, c.tune.state.Air = &airleak.Watch{}, &airleak.State{Phase: airleak.Learning}
	}
	if c.bal != nil {
		c.bal.Pause(on)
	}
}

// StopTrim ends a trim; what it has told of the pilot screws stays, and of one that has ended its last state.
func (c *Chain) StopTrim() {
	if c.tune.trim != nil {
		c.tune.trim.Release()
		c.tune.trim = nil
		if st := c.tune.state.Trim; st != nil && st.Step != mixture.StepAllSet {
			c.tune.state.Trim = nil
		}
	}
}

// StartRaised begins a look at the raised speed. Bank and ambient are filled into cfg. A trim ends.
func (c *Chain) StartRaised(cfg raised.Config) error {
	if c.tune.idle == nil {
		return fmt.Errorf("no frames yet, a look needs a board that sends")
	}
	cfg.Bank, cfg.Ambient = c.bank, c.cfg.Ambient
	c.StopTrim()
	c.restBefore(raisedNeeds)
	c.tune.state.Trim, c.tune.state.Raised = nil, nil
	c.tune.raised = raised.New(cfg)
	return nil
}

// StopRaised ends a look at the raised speed.
func (c *Chain) StopRaised() { c.tune.raised = nil }
