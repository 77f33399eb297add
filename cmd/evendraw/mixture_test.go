package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/session"
)

// The virtual mechanic trims a whole practice bank: JSON lines, a summary with every
// screw set, and the same kind of figures at each.
func TestMixtureByTheVirtualMechanic(t *testing.T) {
	t.Parallel()
	r := evendraw(t, t.TempDir(), "mixture", "--practice", "--auto", "--fast", "--json", "--cylinder", "1")
	if r.status != 0 {
		t.Fatalf("status %d: %s", r.status, r.err)
	}
	lines := strings.Split(strings.TrimSpace(r.out), "\n")
	var last struct {
		Summary struct {
			Step   string
			RPM    *float64 `json:"rpm"`
			Pilots []struct {
				Found string
				Out   *float64 `json:"turns_out"`
				Width *float64 `json:"uncertainty_turns"`
			}
		}
	}
	if err := json.Unmarshal([]byte(lines[len(lines)-1]), &last); err != nil {
		t.Fatal(err)
	}
	s := last.Summary
	if s.Step != "all-set" || len(s.Pilots) != 4 || s.Pilots[0].Out == nil || s.Pilots[0].Width == nil || s.Pilots[1].Found != "" {
		t.Errorf("%+v", s)
	}
	for i, line := range lines[:len(lines)-1] {
		var any map[string]any
		if err := json.Unmarshal([]byte(line), &any); err != nil || any["step"] == nil {
			t.Fatalf("line %d: %v: %s", i, err, line)
		}
	}
	if len(lines) < 100 || !strings.Contains(r.err, "carbon monoxide") {
		t.Errorf("%d lines; on standard error: %s", len(lines), r.err)
	}
}

func TestMixtureRaised(t *testing.T) {
	t.Parallel()
	r := evendraw(t, t.TempDir(), "mixture", "raised", "--practice", "--auto", "--fast")
	if r.status != 0 || !strings.Contains(r.out, "Spread") || !strings.Contains(r.out, "HOLD") {
		t.Errorf("status %d: %s\n%s", r.status, r.out, r.err)
	}
}

func TestMixtureGas(t *testing.T) {
	t.Parallel()
	r := evendraw(t, t.TempDir(), "mixture", "gas", "--co", "8.49", "--co2", "9.93", "--hc", "330", "--o2", "0.15", "--json")
	var got map[string]float64
	// A published row: 0.77 (see package mixture).
	if err := json.Unmarshal([]byte(r.out), &got); err != nil || math.Abs(got["lambda"]-0.77) > 0.01 {
		t.Errorf("%v %s %s", err, r.out, r.err)
	}
}

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
	r := &rig{garage: g, bike: &bike}
	apart := garage.NewBenchSheet(&bike.Bank, garage.SheetApart)
	apart.Program, apart.Time = version, time.Now().Add(-time.Hour)
	apart.Carburettors[0].PilotTurnsOut, apart.Carburettors[0].PilotJet = 2.25, "38"
	if _, err := g.SaveBench(bike.Name, &apart); err != nil {
		t.Fatal(err)
	}
	s := mixture.TrimState{Cylinders: 2, Step: mixture.StepAllSet}
	s.Pilots[0].Out, s.Pilots[1].Out = 2.5, math.NaN()
	snap := &session.Snapshot{Bank: bank.Default(2), Tune: session.Tune{Trim: &s, Idle: mixture.IdleState{EffectRPMPerTurn: 280},
		Lambda: &mixture.ProbeState{Lambda: 0.95}}}
	if path, err := saveSheet(r, snap, garage.FuelScrews); err != nil || path == "" {
		t.Fatalf("%q, %v", path, err)
	}
	got := r.lastSheet()
	if c := got.Carburettors; c[0].PilotTurnsOut != 2.5 || !math.IsNaN(float64(c[1].PilotTurnsOut)) || c[0].PilotJet != "38" || got.Moment != garage.SheetTogether {
		t.Errorf("%+v", got)
	}
	var rec garage.SyncRecord
	addTune(&rec, snap)
	if rec.StopEffectRPMPerTurn != 280 || rec.Lambda != 0.95 || len(rec.PilotTurnsOut) != 2 || rec.PilotTurnsOut[0] != 2.5 {
		t.Errorf("%+v", rec)
	}
	cfg, err := (&mixtureOptions{}).trimConfig(r, 2)
	if err != nil || len(cfg.TurnsOut) != 2 || cfg.TurnsOut[0] != 2.5 {
		t.Errorf("%+v, %v", cfg, err)
	}
}
