package job

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/hint"
	"evendraw/internal/invented"
	"evendraw/internal/keep"
	"evendraw/internal/mixture"
	"evendraw/internal/practice"
	"evendraw/internal/probe"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/view"
)

// What a trim has found goes into the record, from which the next trim takes where the screws stand: a later
// bench card counts more.
func TestTrimIsKept(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	set := &settings.Settings{World: &settings.World{}, Version: "0", Garage: g, Bike: &bike}
	bike.PilotScrews = garage.FuelScrews
	sheet := func(at time.Time, first float64) {
		s := garage.NewBenchCard(&bike.Bank, garage.BenchApart)
		s.Note = "invented"
		s.Time, s.Carburettors[0].PilotTurnsOut = at, garage.NullFloat(first)
		if _, err := g.SaveBench(bike.Name, &s); err != nil {
			t.Fatal(err)
		}
	}
	sheet(time.Now().Add(-time.Hour), 2.25)
	nan := math.NaN()
	snap := invented.IdlingTwin()
	snap.Tune = session.Tune{Idle: mixture.IdleState{EffectRPMPerTurn: 280}, Lambda: &probe.State{Lambda: 0.95},
		Pilots: []mixture.Pilot{{Cylinder: 1, StartOut: 2.25, Out: 2.5, Moved: 0.25},
			{Cylinder: 2, StartOut: nan, Out: nan}}}
	if _, err := keep.New(set, keep.Options{Own: keep.Bike}).Save(snap); err != nil {
		t.Fatal(err)
	}
	all, _ := g.ListSyncs(bike.Name)
	if rec := &all[0].Kept; rec.StopEffectRPMPerTurn != 280 || rec.Lambda != 0.95 || len(rec.PilotTurnsOut) != 2 ||
		rec.PilotTurnsOut[0] != 2.5 || rec.PilotScrews != garage.FuelScrews {
		t.Errorf("%+v", rec)
	}
	l := &live{set: set, opt: &LiveOptions{}}
	cfg, err := l.trimConfig(&TrimFlags{}, 2, l.pilotsStand())
	if err != nil || len(cfg.TurnsOut) != 2 || cfg.TurnsOut[0] != 2.5 || !math.IsNaN(cfg.TurnsOut[1]) {
		t.Errorf("%+v, %v", cfg, err)
	}
	sheet(time.Now().Add(time.Hour), 1.5)
	if out := l.pilotsStand(); out[0] != 1.5 {
		t.Errorf("after a later sheet %v", out)
	}
	sheet(time.Now().Add(2*time.Hour), nan)
	if out := l.pilotsStand(); out[0] != 1.5 {
		t.Errorf("after one that says nothing of them %v", out)
	}
	sheet(time.Now().Add(2*time.Hour+garage.RebuildFor), nan)
	if out := l.pilotsStand(); !math.IsNaN(out[0]) {
		t.Errorf("after such a one of another rebuild %v", out)
	}
}

// A trim on a board keeps a record, as levelling does.
func TestATrimOnABoardIsRecorded(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	set := &settings.Settings{World: &settings.World{}, Version: "0", Garage: g, Bike: &bike}
	l, err := newTuneRun(set, &TuneOptions{}, settings.Streams{Err: io.Discard})
	if err != nil {
		t.Fatal(err)
	}
	if path, err := l.keeper.Save(invented.IdlingTwin()); err != nil || path == "" {
		t.Errorf("%q, %v", path, err)
	}
	if all, _ := g.ListSyncs(bike.Name); len(all) != 1 {
		t.Errorf("%d records", len(all))
	}
}

// More turns than any that is told are a slip of the finger: they are asked for again, and not counted.
func TestASlipIsNoTurn(t *testing.T) {
	t.Parallel()
	l := &live{opt: &LiveOptions{}} // without a session: to count would panic
	for _, text := range []string{"9", "-9"} {
		if e, ok := l.correctTurn(text, false).(view.Told); !ok || !strings.Contains(e.Text, "Not counted") {
			t.Errorf("%s: %+v", text, e)
		}
	}
}

// A trim that is left while a turn is told that nobody confirmed says so, in words and in JSON.
func TestATrimThatIsLeftTellsTheOpenTurn(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	var out strings.Builder
	l := &live{set: &settings.Settings{World: &settings.World{}, Garage: g, Bike: &bike}, src: &replaySource{},
		std: settings.Streams{Out: &out, Err: io.Discard}, opt: &LiveOptions{}}
	tune := session.Tune{Trim: &mixture.TrimState{Step: mixture.StepTurn, Cylinder: 1, Cylinders: 2}}
	tune.Trim.Pilots[0] = mixture.Pilot{Cylinder: 1, Found: mixture.Trimming, StartOut: 2, Moved: 0.5, Open: 0.25}
	stage := l.trimming(&TuneOptions{})
	if stage.outcome(&tune); !strings.Contains(out.String(), "in by 1/4 of a turn") {
		t.Errorf("%q", out.String())
	}
	if line := stage.json(&tune, &heat.State{}, 0); !strings.Contains(string(line), `"open_turns":0.25`) {
		t.Errorf("%s", line)
	}
}

// A practice of the stages after levelling takes of a card that is named what one of the levelling takes, and says so;
// which way its pilot screws are richer, and its raised speed, as well.
func TestAPracticeOfTheTrimTakesTheCard(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	bike.IdleRPMLow, bike.IdleRPMHigh, bike.IdlingLimitMin = 1200, 1300, 3
	bike.RaisedRPM, bike.PilotScrews = 3500, garage.AirScrews
	set := &settings.Settings{World: &settings.World{}, Garage: g, Bike: &bike, Named: true}
	var told strings.Builder
	o := &TuneOptions{LiveOptions: LiveOptions{Practice: practice.Fresh}}
	l, err := newTuneRun(set, o, settings.Streams{Err: &told})
	if err != nil {
		t.Fatal(err)
	}
	cfg := l.src.config(nil)
	if cfg.Idle.LowRPM != 1200 || cfg.Idle.HighRPM != 1300 || cfg.IdlingLimit != 180 || cfg.Bank.Cylinders != 2 ||
		cfg.Aim != bike.AimKPa || l.raisedRPM() != 3500 || o.Trim.Config.Screws != mixture.AirScrews || !o.Bike.Air {
		t.Errorf("%+v, raised %g, %+v", cfg, l.raisedRPM(), o)
	}
	if text := told.String(); !strings.Contains(text, "idle speed, limits and unit of twin") ||
		!strings.Contains(text, "where its pilot screws stand") {
		t.Errorf("told %q", text)
	}
	bike.IdleRPMLow, bike.IdleRPMHigh = 4000, 4200
	var usage *hint.UsageError
	if _, err := newTuneRun(set, o, settings.Streams{Err: io.Discard}); !errors.As(err, &usage) {
		t.Errorf("an idle out of reach: %v", err)
	}
}
