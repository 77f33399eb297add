package job

import (
	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/session"
	"io"
	"math"
	"testing"
	"time"
)

// What a trim has found goes on a new bench sheet, beside what the last one held, and into
// the record.
func TestTrimIsKept(t *testing.T) {
	t.Parallel()
	g, err := garage.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	bike := garage.DefaultBike("invented twin", 2)
	if err := g.NewBike(&bike); err != nil {
		t.Fatal(err)
	}
	set := &Settings{Version: "0", Garage: g, Bike: &bike}
	apart := garage.NewBenchSheet(&bike.Bank, garage.SheetApart)
	apart.Program, apart.Time = set.Version, time.Now().Add(-time.Hour)
	apart.Carburettors[0].PilotTurnsOut, apart.Carburettors[0].PilotJet = 2.25, "38"
	if _, err := g.SaveBench(bike.Name, &apart); err != nil {
		t.Fatal(err)
	}
	s := mixture.TrimState{Cylinders: 2, Step: mixture.StepAllSet}
	s.Pilots[0].Out, s.Pilots[1].Out = 2.5, math.NaN()
	nan := math.NaN()
	pilots := []mixture.Pilot{{Cylinder: 1, StartOut: 2.25, Out: 2.5, Moved: 0.25},
		{Cylinder: 2, StartOut: nan, Out: nan}}
	snap := &session.Snapshot{Bank: bank.Default(2),
		Tune: session.Tune{Trim: &s, Pilots: pilots, Idle: mixture.IdleState{EffectRPMPerTurn: 280},
			Lambda: &mixture.ProbeState{Lambda: 0.95}}}
	if path, err := saveSheet(set, snap, garage.FuelScrews); err != nil || path == "" {
		t.Fatalf("%q, %v", path, err)
	}
	got := set.lastSheet()
	if c := got.Carburettors; c[0].PilotTurnsOut != 2.5 || !math.IsNaN(float64(c[1].PilotTurnsOut)) ||
		c[0].PilotJet != "38" || got.Moment != garage.SheetTogether {
		t.Errorf("%+v", got)
	}
	var rec garage.SyncRecord
	addTune(&rec, snap)
	if rec.StopEffectRPMPerTurn != 280 || rec.Lambda != 0.95 || len(rec.PilotTurnsOut) != 2 ||
		rec.PilotTurnsOut[0] != 2.5 {
		t.Errorf("%+v", rec)
	}
	cfg, err := set.trimConfig(&TrimFlags{}, 2, nil, got)
	if err != nil || len(cfg.TurnsOut) != 2 || cfg.TurnsOut[0] != 2.5 {
		t.Errorf("%+v, %v", cfg, err)
	}
}

// A trim on a board keeps a record, as levelling does.
func TestATrimOnABoardIsRecorded(t *testing.T) {
	t.Parallel()
	g, err := garage.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	bike := garage.DefaultBike("invented twin", 2)
	if err := g.NewBike(&bike); err != nil {
		t.Fatal(err)
	}
	set := &Settings{World: &World{}, Version: "0", Garage: g, Bike: &bike}
	l, err := newTuneRun(set, &TuneOptions{}, Streams{Err: io.Discard})
	if err != nil {
		t.Fatal(err)
	}
	if path, err := l.keeper.save(keptSnapshot(0)); err != nil || path == "" {
		t.Errorf("%q, %v", path, err)
	}
	if all, _ := g.ListSyncs(bike.Name); len(all) != 1 {
		t.Errorf("%d records", len(all))
	}
}
