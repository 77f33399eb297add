package view

import (
	"context"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/bikeform"
	"evendraw/internal/engine"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// job is a person who does the job on the practice engine, faster than real time.
type job struct {
	t     *testing.T
	e     *engine.Engine
	s     *session.Session
	v     View
	steps []Step // as they came
	hand  float64
	way   float64    // of its last turn, clockwise positive
	told  advice.Why // what it was told then
	saves int
}

func newJob(t *testing.T) *job {
	four := bank.Default(4)
	j := &job{t: t, e: engine.New(engine.Config{Bank: four, Seed: 3})}
	j.s = session.New(session.Config{Bank: &four, Ambient: 101.3, Reference: 1,
		Idle: mixture.IdleConfig{LowRPM: 1080, HighRPM: 1160}}, session.Options{})
	j.v = View{Now: now, Snap: j.s.Snapshot(), Unit: pressure.Kilopascal, Aim: 0.5, Limit: 2.7,
		Checks: garage.PreStartChecks(&four)}
	j.v = j.v.StartAt(StepChecks)
	j.steps = []Step{StepChecks}
	return j
}

// live lets a twentieth of a second pass.
func (j *job) live() {
	end := j.e.Truth().TimeS + 0.05
	j.s.Run(context.Background(), readerFunc(func(p []byte) (int, error) {
		if j.e.Truth().TimeS >= end {
			return 0, io.EOF
		}
		return j.e.Read(p[:min(len(p), 480)])
	}))
	at := now.Add(time.Duration(j.e.Truth().TimeS * float64(time.Second)))
	snap := *j.s.Snapshot()
	snap.Phase, snap.LastFrame, snap.HeatAt = session.Running, at, at
	j.update(Tick{at, &snap})
}

func (j *job) update(e Event) {
	j.v = Update(j.v, e)
	for _, w := range j.v.Wants {
		switch w.Kind {
		case StartZero:
			j.s.Chain(func(c *session.Chain) { c.StartZero() })
		case StartMatch:
			j.s.Chain(func(c *session.Chain) { c.StartMatch(nil) })
		case DropMatch:
			j.s.Chain((*session.Chain).DropMatch)
		case Save:
			j.saves++
		case LookLevel:
			j.s.AskAnew()
		case LookIdle:
			j.s.Chain((*session.Chain).RestartIdle)
		}
	}
	if at := j.v.Flow.At; at != j.steps[len(j.steps)-1] {
		j.steps = append(j.steps, at)
	}
}

// until lives until the job stands at a step, with each in between.
func (j *job) until(s Step, seconds float64, each func()) {
	j.t.Helper()
	for end := j.e.Truth().TimeS + seconds; j.v.Flow.At != s; {
		if j.e.Truth().TimeS > end {
			p := j.v.Picture()
			j.t.Fatalf("step %q did not come in %g s: still at %q, %q %v, %.0f rpm", s.ID(), seconds, j.v.Flow.At.ID(),
				p.Big, p.Say, j.v.reading().RPM)
		}
		j.live()
		if each != nil {
			each()
		}
	}
}

// obey does what the advice says, a little at a time.
func (j *job) obey() {
	a := j.v.reading().Advice
	now := j.e.Truth().TimeS
	if now < j.hand {
		return
	}
	defer func() { j.told = a.Why }()
	switch {
	case a.ToTurn(advice.SyncScrew):
		j.hand = now + 0.5
		switch { // without a direction the same way, or that of the last turn back
		case a.Direction != advice.UnknownWay:
			j.way = a.Direction.Sign()
		case a.Why == advice.WhyTurnBack && j.told != a.Why:
			j.way = -j.way
		}
		j.e.Turn(a.Screw, 0.06*j.way)
	case a.Why == advice.WhyBlip && j.v.Flow.At == StepBlip:
		j.hand = now + 12
		j.e.Blip()
	case a.ToTurn(advice.ThrottleStop):
		j.turnStop(a.SignedTurns())
	}
}

func (j *job) turnStop(turns float64) {
	j.hand = j.e.Truth().TimeS + 10
	j.e.TurnStop(turns)
}

// obeyIdle turns the throttle stop as the screen says.
func (j *job) obeyIdle() {
	j.obey()
	a := j.v.Snap.Tune.Idle.Advice
	if a.ToTurn(advice.ThrottleStop) && j.e.Truth().TimeS > j.hand {
		j.turnStop(a.SignedTurns())
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// The job goes through its steps, by itself where a step can be seen to be done.
func TestTheJobMovesOnByItself(t *testing.T) {
	t.Parallel()
	j := newJob(t)
	j.live()
	j.update(KeyPress{"="})
	j.update(KeyPress{"="})   // all checks seen
	j.until(StepZero, 8, nil) // the board sends well
	j.later(21)               // a second to read
	j.update(KeyPress{KeyEnter})
	j.until(StepMatch, 10, nil)
	j.e.Tee(1)
	j.e.Start()
	j.later(8 * 20)
	j.update(KeyPress{KeyEnter})
	if j.later(30 * 20); j.v.Picture().Big != "COMPARED" { // the hoses are still on one port
		t.Errorf("at %s, %s", j.v.Flow.At.ID(), j.v.Picture().Big)
	}
	j.e.Stop()
	j.e.Tee(0)
	j.until(StepWarm, 10, nil)
	j.live()
	j.e.Start()
	j.until(StepLevel, 60, nil) // settled, and the hoses are right
	j.until(StepBlip, 150, j.obey)
	j.until(StepIdle, 120, j.obey) // through the blip, and the lock nuts
	j.until(StepPilots, 120, j.obeyIdle)
	if j.saves == 0 {
		t.Error("the level bank was not saved")
	}
	j.update(KeyPress{"n"})
	j.update(KeyPress{"n"})
	j.update(KeyPress{"s"})
	want := []Step{StepChecks, StepRig, StepZero, StepMatch, StepWarm, StepHoses, StepLevel, StepBlip, StepIdle,
		StepPilots, StepRaised, StepKeep}
	if once := slices.Compact(slices.Sorted(slices.Values(j.steps))); !slices.Equal(once, want) {
		t.Errorf("steps %v, want %v", j.steps, want)
	}
	if j.saves < 2 {
		t.Errorf("%d saves", j.saves)
	}
}

// A step that was chosen stays, though it is done, until it is done anew.
func TestAChosenStepStays(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepBlip)
	v = press(v, "p")
	pass := func(kind advice.Kind, seconds int) {
		for range seconds * 20 {
			at := v.Now.Add(50 * time.Millisecond)
			s := *running(reading(kind, advice.WhyLevel)).Snap
			s.LastFrame = at
			v = Update(v, Tick{at, &s})
		}
	}
	pass(advice.Done, 10)
	if v.Flow.At != StepLevel {
		t.Fatalf("the job went on to %q", v.Flow.At.ID())
	}
	pass(advice.Turn, 1)
	pass(advice.Done, 2)
	if v.Flow.At != StepLevel {
		t.Fatalf("the job went on at once, to %q", v.Flow.At.ID())
	}
	pass(advice.Done, 2)
	if v.Flow.At != StepBlip {
		t.Errorf("the job stays at %q", v.Flow.At.ID())
	}
}

// When a blip has moved the bank, the job goes back to level it.
func TestABlipThatMovesTheBank(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepBlip)
	pass := func(kind advice.Kind, rpm float64, ticks int) {
		for range ticks {
			at := v.Now.Add(50 * time.Millisecond)
			r := reading(kind, advice.WhyUnlevel)
			r.RPM = rpm
			s := *running(r).Snap
			s.LastFrame = at
			v = Update(v, Tick{at, &s})
		}
	}
	pass(advice.Recheck, 1000, 100)
	pass(advice.Wait, 2500, 10)
	pass(advice.Turn, 1020, 50)
	if v.Flow.At != StepBlip {
		t.Fatalf("back to %q too soon", v.Flow.At.ID())
	}
	pass(advice.Turn, 1020, 20)
	if v.Flow.At != StepLevel || !strings.Contains(v.Note, "level once more") {
		t.Errorf("at %q, note %q", v.Flow.At.ID(), v.Note)
	}
}

func TestStepsCanBeChosen(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel)).StartAt(StepLevel)
	for keys, want := range map[string]Step{"n": StepIdle, "p": StepHoses, "op": StepHoses,
		"o": StepLevel, "on": StepIdle} {
		t.Run(keys, func(t *testing.T) {
			got := press(v, strings.Split(keys, "")...)
			if got.Flow.At != want {
				t.Errorf("%q leads to %q, want %q", keys, got.Flow.At.ID(), want.ID())
			}
			kept := slices.ContainsFunc(got.Wants,
				func(w Want) bool { return w.Kind == KeepPlace && w.Text == want.ID() })
			if keys != "o" && !kept {
				t.Errorf("the place is not kept: %+v", got.Wants)
			}
		})
	}
	if at := press(v, "o", KeyDown, KeyDown, KeyEnter).Flow.At; at != StepIdle {
		t.Errorf("two down from the step at hand is %q", at.ID())
	}
	if v := press(v.StartAt(StepBike), "p", "p"); v.Flow.At != StepBike {
		t.Error("before the first step is another")
	}
	if v := press(v.StartAt(StepKeep), "n", "n"); v.Flow.At != StepKeep {
		t.Error("after the last step is another")
	}
	for s := range stepCount {
		if got, ok := ParseStep(s.ID()); !ok || got != s || s.Name() == "" {
			t.Errorf("step %d: %q is read as %d", s, s.ID(), got)
		}
	}
}

// A new bike is made with a name and its cylinders; what is typed is no command.
func TestABikeIsMade(t *testing.T) {
	t.Parallel()
	v := View{Now: now, Bikes: []string{"a", "b"}}.StartAt(StepBike)
	v = press(v, KeyDown, KeyDown, KeyEnter, "q", " ", "ü", "x", KeyBackspace, KeyEnter, "7", KeyEnter)
	if v.Entry == nil || v.Entry.Prompt != bikeform.AskCylinders.Text {
		t.Fatalf("seven cylinders were taken: %+v", v.Entry)
	}
	v = press(v, "3", KeyEnter)
	if v.Entry == nil || v.Entry.Text != "1-2-3" {
		t.Fatalf("the firing order is not asked for: %+v", v.Entry)
	}
	v = press(v, KeyBackspace, "2", KeyEnter)
	if v.Entry == nil || v.Entry.Prompt != bikeform.AskFiring.Text || v.Note == "" {
		t.Fatalf("1-2-2 was taken: %+v", v.Entry)
	}
	v = press(v, KeyBackspace, KeyBackspace, KeyBackspace, KeyBackspace, "-", "3", "-", "2", KeyEnter)
	if v.Entry == nil || v.Entry.Text != "1-2:1 2-3:3" {
		t.Fatalf("the screws are not asked for: %+v, %s", v.Entry, v.Note)
	}
	v = press(v, KeyEnter)
	if v.Entry == nil || v.Entry.Text != bikeform.CommonIdle {
		t.Fatalf("the idle speed is not asked for: %+v", v.Entry)
	}
	v = press(v, KeyEnter, KeyBackspace, "8", KeyEnter)
	if v.Entry == nil || v.Entry.Prompt != bikeform.AskNuts.Text {
		t.Fatalf("lock nuts are not asked for: %+v", v.Entry)
	}
	v = press(v, KeyBackspace, KeyBackspace, KeyBackspace, "n", KeyEnter, "x", KeyEnter, "a", "i", "r", KeyEnter,
		KeyBackspace, KeyBackspace, "y", KeyEnter)
	if !slices.ContainsFunc(v.Wants, func(w Want) bool { return w.Kind == ToggleFan }) {
		t.Errorf("the fan is not told: %+v", v.Wants)
	}
	if len(v.Wants) < 1 || v.Wants[0].Kind != MakeBike || v.Wants[0].Card == nil || v.Flow.At != StepChecks {
		t.Fatalf("%+v at %q", v.Wants, v.Flow.At.ID())
	}
	if b := v.Wants[0].Card; b.Name != "q ü" || b.Bank.Cylinders != 3 ||
		!slices.Equal(b.Bank.FiringOrder, []int{1, 3, 2}) ||
		b.Bank.Root != 2 || !b.Bank.NoLockNuts || b.PilotScrews != garage.AirScrews || b.IdleRPMLow != 1000 ||
		b.IdleRPMHigh != 1100 || b.IdlingLimitMin != 8 {
		t.Errorf("%+v", b)
	}
	v = press(View{Now: now, Bikes: []string{"a", "b"}}.StartAt(StepBike), KeyDown, KeyEnter)
	if v.Wants[0].Kind != ChooseBike || v.Wants[0].Text != "b" {
		t.Errorf("%+v", v.Wants)
	}
}

// Checks are ticked one by one or all at once, and kept when the step is left. What
// is to be seen of the place is looked at anew the next day.
func TestChecks(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	checks := garage.PreStartChecks(&four)
	v := View{Now: now, Checks: checks}.StartAt(StepChecks)
	v = press(v, " ", "-", "n")
	i := slices.IndexFunc(v.Wants, func(w Want) bool { return w.Kind == KeepTicks })
	if i < 0 || len(v.Wants[i].Ticks) != 2 || v.Wants[i].Ticks[1].Answer != garage.TickNotNeeded ||
		v.Wants[i].Ticks[0].ID != checks[0].ID {
		t.Fatalf("%+v", v.Wants)
	}
	v = View{Now: now, Checks: checks}.StartAt(StepChecks)
	for range len(checks) - 1 {
		v = press(v, KeyEnter)
	}
	if openChecks(&v) != 1 || v.Flow.At != StepChecks {
		t.Errorf("%d open, at %q", openChecks(&v), v.Flow.At.ID())
	}
	if v = press(v, KeyEnter); openChecks(&v) != 0 || v.Flow.At != StepRig {
		t.Errorf("%d open, at %q", openChecks(&v), v.Flow.At.ID())
	}
	v = press(View{Now: now, Checks: checks}.StartAt(StepChecks), "=")
	if openChecks(&v) != len(checks) || v.Note != allSeen {
		t.Errorf("= once: %d open, %q", openChecks(&v), v.Note)
	}
	if v := press(v, KeyDown, "="); openChecks(&v) != len(checks) {
		t.Errorf("= again after another key: %d open", openChecks(&v))
	}
	v = press(v, "=")
	if openChecks(&v) != 0 || v.Flow.At != StepRig {
		t.Errorf("%d open, at %q", openChecks(&v), v.Flow.At.ID())
	}
	v.Now = now.Add(24 * time.Hour)
	v = Update(v, Bike{Checks: checks, Ticks: v.Ticks})
	if n := openChecks(&v); n != 4 {
		t.Errorf("the next day %d are open, want the four of the place", n)
	}
}

// A page that is being read stays when the job goes on by itself, and where it was scrolled to.
func TestAPageThatIsReadStays(t *testing.T) {
	t.Parallel()
	for key, page := range map[string]Page{"?": PageHelp, "w": PageWaves, "r": PageRig, "o": PageSteps} {
		v := press(running(reading(advice.Done, advice.WhyLevel)).StartAt(StepLevel), key)
		for range 10 * 20 {
			at := v.Now.Add(50 * time.Millisecond)
			s := *v.Snap
			s.LastFrame = at
			v = Update(v, Tick{at, &s})
		}
		if v.Flow.At == StepLevel || v.Page != page {
			t.Errorf("%q: at %q, page %v, want %v", key, v.Flow.At.ID(), v.Page, page)
		}
	}
}

// An Enter that comes just as a step has come by itself was for the one before, and begins nothing of this one.
func TestAnEnterIsForTheStepThatWasRead(t *testing.T) {
	t.Parallel()
	for late, begins := range map[time.Duration]bool{readTime / 2: false, readTime: true} {
		r := reading(advice.Wait, advice.WhyNoCycle)
		r.Span.Cycle = false
		v := running(r).StartAt(StepRig)
		v.Snap.Zero.Zeroed = false
		v.moveOn(StepZero)
		v.Now = v.Now.Add(late)
		v = press(v, KeyEnter)
		if began := slices.ContainsFunc(v.Wants, func(w Want) bool { return w.Kind == StartZero }); began != begins {
			t.Errorf("an Enter %v after the step came begins its zero pass: %v", late, began)
		}
	}
}
