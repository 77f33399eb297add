package view

import (
	"fmt"
	"math"
	"slices"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/hoses"
	"evendraw/internal/session"
)

// Step is one step of the job, in the order of the work.
type Step int

// Steps.
const (
	StepBike Step = iota
	StepChecks
	StepRig
	StepZero
	StepMatch
	StepWarm
	StepHoses
	StepLevel
	StepBlip
	StepIdle
	StepPilots
	StepRaised
	StepKeep
	stepCount
)

// steps holds each step's ID, as files and the command line have it, its name on the screen, and how long it must
// look done before the flow moves on. The times are chosen: long enough to read the word that says so.
var steps = [stepCount]struct {
	id, name string
	hold     time.Duration
}{
	StepBike:   {"bike", "The bike", 0},
	StepChecks: {"checks", "Before the start", time.Second},
	StepRig:    {"rig", "The board", 2 * time.Second},
	StepZero:   {"zero", "Zero the sensors", 3 * time.Second},
	StepMatch:  {"match", "Compare the sensors", 3 * time.Second},
	StepWarm:   {"warm", "Start and warm up", 5 * time.Second},
	StepHoses:  {"hoses", "Hoses right?", 2 * time.Second},
	StepLevel:  {"level", "Level the bank", 3 * time.Second},
	StepBlip:   {"blip", "Blip and look again", 8 * time.Second},
	StepIdle:   {"idle", "Idle speed", 3 * time.Second},
	StepPilots: {"pilots", "Pilot screws", 0},
	StepRaised: {"raised", "Look at a raised speed", 0},
	StepKeep:   {"keep", "Save", 0},
}

// ID returns the step's name in files and on the command line.
func (s Step) ID() string { return steps[s].id }

// Name returns the step's name on the screen.
func (s Step) Name() string { return steps[s].name }

// live reports whether the step is done beside a running engine: its screen shows the lanes.
func (s Step) live() bool { return s >= StepWarm && s <= StepRaised }

// ParseStep returns the step of that ID.
func ParseStep(id string) (Step, bool) {
	i := slices.Index(StepIDs(), id)
	return Step(max(i, 0)), i >= 0
}

// StepIDs lists the IDs of all steps.
func StepIDs() (ids []string) {
	for _, s := range steps {
		ids = append(ids, s.id)
	}
	return ids
}

// Flow is where the job stands.
type Flow struct {
	// Off is set where there is no job to go through: a capture, or plain lines.
	Off bool
	At  Step

	chosen bool      // the user has gone here
	stays  bool      // until Enter: the engine was said not to be warm yet
	armed  bool      // the step ends by itself when it is done
	since  time.Time // since when it looks done, zero while it doesn't
	came   time.Time // when it came by itself; else zero
	began  time.Time // when it came in the course of the job
	// What the step has seen of the engine since it began.
	slow    float64   // slow mean of the speed, rpm; 0 before the first
	slowAt  time.Time // when it was last renewed
	held    float64   // slow mean that counts as settled
	heldAt  time.Time // since when
	away    time.Time // since when the bank is no longer level
	records int       // saved before the step
	back    Step      // a zero pass leads back to it, 0 to the step after
}

// Limits of the flow. Chosen.
const (
	// warmSeconds is for how long the mean speed of some slowSeconds must stay within warmShare to count as settled:
	// an idle wanders as much, an engine that warms up gains more.
	warmSeconds = 15
	warmShare   = 0.03
	slowSeconds = 4
	// unheardTime is how long at a step's begin an advice may be of before, which nobody was told: session.AskAnew.
	unheardTime = 500 * time.Millisecond
	// awaySeconds is how long the advice must say turn until the bank counts as no longer level.
	awaySeconds = 3
	// rigSeconds is how many whole seconds in a row the board must send well.
	rigSeconds = 3
	rateSlack  = 0.03
)

// goTo makes a step the one at hand. forward is set when the step before is done: this one then
// also ends by itself once it is done. A step that the user chose stays until it is done anew.
func (v *View) goTo(s Step, forward bool) {
	s = min(max(s, 0), stepCount-1)
	v.leave(v.Flow.At)
	v.Flow = Flow{At: s, armed: forward, chosen: !forward, Off: v.Flow.Off, records: len(v.Records)}
	v.Page, v.Cursor = PageStep, 0
	switch s {
	case StepBike:
		v.Cursor = max(v.bikeAt(v.Bike), 0)
	case StepChecks:
		v.Cursor = max(slices.IndexFunc(v.Checks, v.openCheck), 0)
	case StepLevel:
		v.want(Want{Kind: LookLevel})
	case StepIdle:
		v.want(Want{Kind: LookIdle})
	case StepRaised:
		v.want(Want{Kind: LookRaised})
	}
	v.want(Want{Kind: KeepPlace, Text: s.ID()})
}

// moveOn makes a step the one at hand without the user's doing: another page that is being read stays.
func (v *View) moveOn(s Step) {
	if s > v.Flow.At {
		v.mark("x")
	}
	page, cursor := v.Page, v.Cursor
	v.goTo(s, true)
	v.Flow.came, v.Flow.began = v.Now, v.Now
	if page != PageStep {
		v.Page, v.Cursor = page, cursor
	}
}

// next is the step that follows on the one at hand.
func (v *View) next() Step {
	if v.Flow.At == StepZero && v.Flow.back > StepZero {
		return v.Flow.back
	}
	return v.Flow.At + 1
}

// leave keeps what was answered in a step.
func (v *View) leave(s Step) {
	switch {
	case s == StepChecks && len(v.Ticks) > 0:
		v.want(Want{Kind: KeepTicks, Ticks: v.Ticks})
	case s == StepMatch && v.snap().Match.Running:
		v.want(Want{Kind: DropMatch})
	case s == StepLevel && v.air() != nil:
		v.want(Want{Kind: WatchAir})
	case s == StepPilots || s == StepRaised:
		v.noteOpenPilot()
		v.want(Want{Kind: EndTune})
	}
}

// StartAt returns the view with the job at a step, before the first event.
func (v View) StartAt(s Step) View {
	v.Flow.Off = false
	v.goTo(s, true)
	v.Wants = nil
	return v
}

// startZero asks for a zero pass, and shows it.
func (v *View) startZero() {
	if at := v.Flow.At; !v.Flow.Off && at != StepZero {
		v.goTo(StepZero, true)
		v.Flow.back = at
	}
	if v.turning() {
		v.note("Zero refused: the engine runs. Stop it, open the hoses, then z.", Warn)
		return
	}
	v.want(Want{Kind: StartZero})
}

// follow moves the job on where the step at hand is seen to be done.
func (v *View) follow() {
	f := &v.Flow
	if f.Off || v.Entry != nil || v.air() != nil { // who looks for a leak is not moved on
		return
	}
	v.observe()
	if f.At == StepRaised && v.turning() && v.Snap.Tune.Raised == nil { // a job that begins here, another board
		v.want(Want{Kind: LookRaised})
	}
	switch {
	case f.stays:
		return
	case v.Cold && !v.done(StepWarm):
		v.warmth = garage.WarmthPassed
	case v.done(StepWarm) && (v.Cold || v.warmth == "" || f.At == StepWarm && v.warmth == garage.WarmthPassed):
		v.Cold, v.warmth = false, garage.WarmthAssumed
	}
	switch {
	case (f.At == StepRig || f.At == StepZero) && !f.chosen && v.turning() && v.snap().Zero.Zeroed:
		v.moveOn(StepWarm) // someone was quicker
		return
	case f.At == StepMatch && !f.chosen && v.onPorts() && !v.snap().Match.Running:
		v.moveOn(StepWarm)
		v.marks[StepMatch] = "-"
		return
	case f.At == StepBlip && f.armed && !f.away.IsZero() && v.Now.Sub(f.away) > awaySeconds*time.Second:
		v.moveOn(StepLevel)
		v.note("It has moved: level once more.", Warn)
		return
	case !v.done(f.At) || v.inDoubt():
		f.armed, f.since = true, time.Time{}
		return
	case !f.armed:
		return
	}
	if f.since.IsZero() {
		f.since = v.Now
	}
	if v.Now.Sub(f.since) >= steps[f.At].hold+v.lessonTime() {
		v.moveOn(v.next())
	}
}

// turning reports whether the engine turns, by a reading that is fresh.
func (v *View) turning() bool {
	r := v.reading()
	return r != nil && r.Span.Cycle && v.age() < staleAfter
}

// onePort reports whether the engine runs as it was compared, its hoses not yet seen to be on ports of their own.
func (v *View) onePort() bool {
	m := &v.snap().Match
	return m.Result != nil && !m.Running && (v.turning() || v.heat().Turning) && !v.onPorts()
}

// onPorts reports whether the engine is seen to run with each hose on a port of its own.
func (v *View) onPorts() bool {
	if !v.turning() {
		return false
	}
	h := &v.reading().Hoses
	return (h.Verdict == hoses.AsExpected || h.Verdict == hoses.Exchanged) && len(h.OnePort) == 0
}

// observe keeps what the steps need to know of the engine's past.
func (v *View) observe() {
	f := &v.Flow
	if !v.turning() {
		f.held, f.slow, f.away = 0, 0, time.Time{}
		return
	}
	r := v.reading()
	rpm := r.RPM
	if math.IsNaN(rpm) {
		return
	}
	if f.slow == 0 {
		f.slow, f.slowAt = rpm, v.Now
	}
	f.slow += (1 - math.Exp(-v.Now.Sub(f.slowAt).Seconds()/slowSeconds)) * (rpm - f.slow)
	f.slowAt = v.Now
	if !r.Steady || math.Abs(f.slow-f.held) > warmShare*f.held {
		f.held, f.heldAt = f.slow, v.Now
	}
	if !v.unlevel() {
		f.away = time.Time{}
	} else if f.away.IsZero() {
		f.away = v.Now
	}
}

// settledFor is how many seconds the speed has been settled.
func (v *View) settledFor() float64 {
	if v.Flow.held == 0 {
		return 0
	}
	return v.Now.Sub(v.Flow.heldAt).Seconds()
}

// done reports whether a step is seen to be done. Some only the user knows.
func (v *View) done(s Step) bool {
	r := v.reading()
	switch s {
	case StepChecks:
		return len(v.Checks) > 0 && !v.anyOpen()
	case StepRig:
		return v.rigGood()
	case StepZero:
		z := v.snap().Zero
		return z.Result != nil && z.Zeroed && !z.Running
	case StepMatch:
		return v.matched() && !v.snap().Match.Running && !v.onePort()
	}
	if !v.turning() {
		return false
	}
	switch s {
	case StepWarm:
		return v.settledFor() >= warmSeconds && r.Advice.Why != advice.WhyCold
	case StepHoses:
		return r.Hoses.Verdict == hoses.AsExpected
	case StepLevel: // what comes next is asked for by the advice itself
		return r.Advice.Why == advice.WhyBlip || levelled(&r.Advice)
	case StepBlip:
		return levelled(&r.Advice)
	case StepIdle:
		return v.Snap.Tune.Idle.Advice.Kind == advice.Done
	}
	return false
}

// levelled reports whether the bank is level and every look at it done.
func levelled(a *advice.Advice) bool { return a.Kind == advice.Done || a.ToTurn(advice.ThrottleStop) }

// inDoubt reports whether a bank that reads level is told with something to look at: nobody is moved on from that.
func (v *View) inDoubt() bool {
	return (v.Flow.At == StepLevel || v.Flow.At == StepBlip) && v.turning() && v.reading().Advice.Kind == advice.Done &&
		v.doubtNote() != ""
}

// rigGood reports whether the board sends as it should, and no sensor of the bank stands at an end.
func (v *View) rigGood() bool {
	if v.snap().Phase != session.Running || v.Snap.Board == nil || v.age() > staleAfter {
		return false
	}
	nominal := float64(v.Snap.Board.Rate)
	if v.rate.Seconds < rigSeconds || v.rate.Trouble || math.Abs(v.rate.PerSecond-nominal) > rateSlack*nominal {
		return false
	}
	atEnd := func(c balance.Cylinder) bool { return c.State == cycle.RailLow || c.State == cycle.RailHigh }
	r := v.reading()
	return r == nil || !slices.ContainsFunc(r.Cylinders, atEnd)
}

// unlevel reports whether the advice is to turn a synchronising screw.
func (v *View) unlevel() bool {
	r := v.reading()
	return r != nil && r.Advice.ToTurn(advice.SyncScrew)
}

// stepLine says which step is at hand, and which comes next.
func (v *View) stepLine() []Text {
	if v.Flow.Off {
		return nil
	}
	at := v.Flow.At
	line := []Text{{fmt.Sprintf("%d/%d", at+1, stepCount), Dim}, {at.Name(), Strong}}
	next := v.next()
	if next == StepBlip && v.done(StepBlip) { // the blip is behind it
		next++
	}
	if next < stepCount {
		line[1].Text = sentence(at.Name())
		line = append(line, Text{"Next: " + next.Name(), Dim})
	}
	return line
}
