package job

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/invented"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
)

// What the listener answers goes where a run's words went as it began: the run gives its own streams back while the
// listener still waits for a line.
func TestTheListenerHasItsOwnStreams(t *testing.T) {
	t.Parallel()
	var began strings.Builder
	r := &stageRun{live: &live{opt: &LiveOptions{}, std: settings.Streams{Err: io.Discard}},
		stage: &stage{keys: "q leaves"}}
	lines := []string{"what now", "q"}
	stopped := error(nil)
	r.listen(func() (string, error) {
		if len(lines) == 0 {
			return "", io.EOF
		}
		line := lines[0]
		lines = lines[1:]
		r.std = settings.Streams{} // given back: to print there would panic
		return line, nil
	}, &began, true, func(why error) { stopped = why })
	if !strings.Contains(began.String(), "q leaves") || !errors.Is(stopped, errStageDone) {
		t.Errorf("%q, %v", began.String(), stopped)
	}
}

// Who looks for a leak at the practice engine is told of the joints alone: nothing is turned, and nothing confirmed.
func TestALeaksHandWets(t *testing.T) {
	t.Parallel()
	l := &live{opt: &LiveOptions{}, src: &practiceSource{Bike: practice.New(practice.Options{Name: practice.Leaking})}}
	r := &stageRun{live: l, stage: l.leaking()}
	var told strings.Builder
	lines := []string{"2 up", "q"}
	r.listen(func() (string, error) {
		line := lines[0]
		if lines = lines[1:]; line == "q" {
			return "", io.EOF
		}
		return line, nil
	}, &told, true, func(error) {})
	if text := told.String(); strings.Count(text, "wet 3") != 2 || strings.Contains(text, "pilot") ||
		strings.Contains(text, "made") {
		t.Errorf("told %s", text)
	}
}

// A trim that is told to come too early stands still until Enter says to begin all the same.
func TestATrimThatComesTooEarlyWaits(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	sess := session.New(session.Config{Bank: &bike.Bank, Zeroed: true, Ambient: engine.DefaultAmbient},
		session.Options{})
	rec := fakeboard.FromEngine(engine.New(engine.Config{Bank: bike.Bank, Seed: 1, Running: true}), 6, nil)
	at := 0
	second := func() { // of the engine
		part := rec.Part(at, at+1000)
		at += 1000
		sess.Chain(func(c *session.Chain) {
			if err := c.Feed(part.Bytes()); err != nil {
				t.Fatal(err)
			}
		})
	}
	var out strings.Builder
	l := &live{set: &settings.Settings{World: &settings.World{}, Garage: g, Bike: &bike}, opt: &LiveOptions{},
		src: &replaySource{},
		std: settings.Streams{Out: &out, Err: io.Discard}, sess: sess}
	r := &stageRun{live: l, stage: l.trimming(&TuneOptions{})}
	under := func() bool { return r.stage.tells(&sess.Snapshot().Tune) }
	second()
	r.enter(io.Discard) // nothing waits for it
	sess.Chain(func(c *session.Chain) { r.stage.begin(c) })
	if second(); !under() {
		t.Fatal("no trim")
	}
	sess.Chain(func(c *session.Chain) { r.tellFirst("not level", &balance.Reading{}, c, true) })
	for range 2 {
		if under() || !strings.Contains(out.String(), "LEVEL FIRST\n    not level\n") {
			t.Errorf("under way %v: %q", under(), out.String())
		}
		second()
	}
	r.enter(io.Discard)
	if second(); !under() {
		t.Error("Enter does not begin it")
	}
}

// A practice by a card whose idle the practice engine can't reach is wrong use, told before anything runs.
func TestAnIdleOutOfReachIsRefused(t *testing.T) {
	t.Parallel()
	g := invented.Garage(t, t.TempDir())
	bike := garage.DefaultBike("twin", 2)
	bike.IdleRPMLow, bike.IdleRPMHigh = 4000, 4200
	set := &settings.Settings{Garage: g, Bike: &bike, Named: true, World: &settings.World{}}
	err := Live(context.Background(), set, &LiveOptions{Practice: practice.Fresh, Headless: true},
		settings.Streams{Out: io.Discard, Err: io.Discard})
	var usage *hint.UsageError
	if !errors.As(err, &usage) || !strings.Contains(err.Error(), "4000 to 4200 rpm") {
		t.Errorf("%v", err)
	}
}
