package view

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/raised"
)

// A zero pass that is taken in a later step leads back to it; from the job's start it leads on.
func TestAZeroPassLeadsBack(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ from, back Step }{{StepPilots, StepPilots}, {StepLevel, StepLevel},
		{StepChecks, StepMatch}} {
		j := newJob(t)
		j.v = j.v.StartAt(c.from)
		j.live()
		j.update(KeyPress{"z"})
		if j.v.Flow.At != StepZero {
			t.Fatalf("z from %s leads to %s", c.from.ID(), j.v.Flow.At.ID())
		}
		for j.v.Flow.At == StepZero && j.e.Truth().TimeS < 15 {
			j.live()
		}
		if j.v.Flow.At != c.back || j.v.marks[StepZero] != "x" {
			t.Errorf("from %s the pass leads to %s, marked %q", c.from.ID(), j.v.Flow.At.ID(), j.v.marks[StepZero])
		}
	}
}

// Who skips the comparison of the sensors, or starts the engine instead, goes on; a pass that is left does not end
// in what the hoses feel later.
func TestTheComparisonIsSkipped(t *testing.T) {
	t.Parallel()
	zeroed := func() *job {
		j := newJob(t)
		j.live()
		j.update(KeyPress{"z"})
		j.until(StepMatch, 10, nil)
		return j
	}
	j := zeroed()
	j.update(KeyPress{KeyEnter})
	j.live()
	if j.update(KeyPress{"n"}); j.v.Flow.At != StepWarm || j.s.Snapshot().Match.Running {
		t.Errorf("n leads to %q, a pass runs: %v", j.v.Flow.At.ID(), j.s.Snapshot().Match.Running)
	}
	j = zeroed()
	j.e.Start()
	j.until(StepWarm, 15, nil)
	if j.v.marks[StepMatch] != "-" || j.v.matched() {
		t.Errorf("marked %q, matched %v", j.v.marks[StepMatch], j.v.matched())
	}
}

// A job that is gone on with ticks what is known to be done.
func TestStepsDoneBeforeAreTicked(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Bike = "invented"
	v = press(v.StartAt(StepLevel), "o")
	for s, it := range v.Picture().List {
		if done := s == int(StepBike) || s == int(StepZero); done != (it.Mark == "x") {
			t.Errorf("%s is marked %q", it.Text, it.Mark)
		}
	}
	if v.Snap.Zero.Zeroed = false; v.Picture().List[StepZero].Mark != " " {
		t.Error("ticked without a zero")
	}
}

// The list of all steps leaves the line in hand of the checks, and their words, as they were.
func TestTheStepsLeaveTheChecksAlone(t *testing.T) {
	t.Parallel()
	j := newJob(t)
	j.live()
	for range 3 {
		j.update(KeyPress{KeyDown})
	}
	before := j.v.Picture().Say[0]
	j.update(KeyPress{"o"})
	j.update(KeyPress{KeyDown})
	if got := j.v.Picture().Say[0]; got != before {
		t.Errorf("the check in hand was %q, and is %q", before, got)
	}
	j.update(KeyPress{"o"})
	if got := j.v.Picture().Say[0]; got != before || j.v.Cursor != 3 {
		t.Errorf("line %d, %q", j.v.Cursor, got)
	}
}

// The result of the raised speed stands until it was read, and nothing is saved while the engine races.
func TestTheRaisedSpeedIsReadAndLetGo(t *testing.T) {
	t.Parallel()
	at := func(v View, rpm float64, seconds int) View {
		for range seconds * 20 {
			r := reading(advice.Done, advice.WhyLevel)
			r.RPM = rpm
			s := *running(r).Snap
			s.LastFrame = v.Now.Add(50 * time.Millisecond)
			s.Tune.Raised = &raised.State{Done: true, Pattern: raised.EvenBoth, Screw: -1}
			v = Update(v, Tick{s.LastFrame, &s})
		}
		return v
	}
	v := at(running(reading(advice.Done, advice.WhyLevel)).StartAt(StepRaised), 3000, 2)
	if big := v.Picture().Big; big != "LET GO" {
		t.Errorf("at 3000 rpm: %q", big)
	}
	if kept := at(press(v, KeyEnter), 3000, 2); kept.Picture().Big != "LET GO" {
		t.Errorf("%q while the engine races", kept.Picture().Big)
	}
	if v = at(v, 1100, 10); v.Flow.At != StepRaised || v.Picture().Big != "EVEN" {
		t.Errorf("10 s later %q at %q", v.Picture().Big, v.Flow.At.ID())
	}
	// Where the idling ran out at that moment, it is told once the engine stands, before the end.
	hot := running(reading(advice.Wait, advice.WhyNoCycle))
	hot.Snap.Reading.Span.Cycle, hot.Snap.Heat = false, heat.State{Seconds: 301, Hot: true}
	hot.Snap.Tune.Raised = &raised.State{Done: true, Pattern: raised.OneHigh, Cylinder: 2}
	hot = Update(hot.StartAt(StepRaised), Tick{now, hot.Snap})
	if p := hot.Picture(); p.Big != "UNEVEN" || !strings.Contains(said(&hot), "Cylinder 2") ||
		p.Keys[0] != "Enter done, next" {
		t.Errorf("as it cools: %q %q %q", p.Big, p.Say, p.Keys)
	}
	hot.Snap.Heat.Turning = true
	if hot = Update(hot, Tick{now.Add(time.Millisecond), hot.Snap}); hot.Picture().Big != BigEngineOff {
		t.Errorf("before it is stopped: %q", hot.Picture().Big)
	}
	// A good end has a word of its own: ENGINE OFF is that of a fault.
	if v = at(press(v, KeyEnter), 1100, 2); v.Picture().Big != "SAVE" ||
		!strings.Contains(said(&v), "Then engine off") {
		t.Errorf("then %q: %s", v.Picture().Big, said(&v))
	}
}

// The time that a hand has for a screw begins with the levelling: what is named while the engine warms is not shown.
func TestNoHandIsLateBeforeItIsAsked(t *testing.T) {
	t.Parallel()
	j := newJob(t)
	j.e.Start() // and the user goes on reading the checks
	seconds := func(n int, each func()) {
		for range n * 20 {
			j.live()
			each()
		}
	}
	late := false
	for range 110 * 20 { // begin in the middle of the word to stop
		if j.live(); j.v.reading() != nil && j.v.reading().Advice.Why == advice.WhyNoAnswer {
			late = true
			break
		}
	}
	if !late {
		t.Fatal("nothing was named before its time")
	}
	j.update(KeyPress{"o"})
	for range StepLevel - StepChecks {
		j.update(KeyPress{KeyDown})
	}
	j.update(KeyPress{KeyEnter})
	if j.v.Flow.At != StepLevel {
		t.Fatal(j.v.Flow.At.ID())
	}
	j.live()
	seconds(3, func() {
		if a := j.v.reading().Advice; a.Why == advice.WhyNoAnswer || !a.ToTurn(advice.SyncScrew) {
			t.Fatalf("%+v", a)
		}
	})
}

// A check on the bank is not asked for beside a running engine without saying that it is to be off.
func TestChecksAskForTheEngineOff(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Wait, advice.WhyNotSteady))
	v.Flow.Off, v.Flow.At = false, StepChecks
	v.Checks = []garage.Check{{ID: garage.CheckFreePlay, Part: garage.PartBank},
		{ID: garage.CheckOutdoors, Part: garage.PartPlace}}
	for at, want := range []string{BigEngineOff, "LOOK FIRST"} {
		if v.Cursor = at; v.Picture().Big != want {
			t.Errorf("check %d: %q, want %q", at, v.Picture().Big, want)
		}
	}
}

// Who levels again goes back to that step, which asks anew as it begins.
func TestLevelAgainGoesBack(t *testing.T) {
	t.Parallel()
	v := Update(running(reading(advice.Done, advice.WhyLevel)).StartAt(StepIdle), LevelAgain{})
	if v.Flow.At != StepLevel || !slices.ContainsFunc(v.Wants, func(w Want) bool { return w.Kind == LookLevel }) {
		t.Errorf("at %s, wants %+v", v.Flow.At.ID(), v.Wants)
	}
}

// later lives for some ticks.
func (j *job) later(ticks int) {
	for range ticks {
		j.live()
	}
}
