package main

import (
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/session"
)

// addTune fills in what the stages after levelling told.
func addTune(rec *garage.SyncRecord, snap *session.Snapshot) {
	rec.StopEffectRPMPerTurn = garage.NullFloat(snap.Tune.Idle.EffectRPMPerTurn)
	rec.Lambda = garage.NullFloat(math.NaN())
	if p := snap.Tune.Lambda; p != nil && !p.AtEnd {
		rec.Lambda = garage.NullFloat(p.Lambda)
	}
	if t := snap.Tune.Trim; t != nil && anyKnown(t) {
		for _, out := range t.TurnsOut() {
			rec.PilotTurnsOut = append(rec.PilotTurnsOut, garage.NullFloat(out))
		}
	}
}

func anyKnown(t *mixture.TrimState) bool {
	for _, out := range t.TurnsOut() {
		if !math.IsNaN(out) {
			return true
		}
	}
	return false
}

// saveSheet writes a bench sheet with the settings of a trim: the bike's last sheet, with
// new turns out. It returns "" where no turns out are known.
func saveSheet(r *rig, snap *session.Snapshot, screws string) (string, error) {
	t := snap.Tune.Trim
	if r.bike == nil || t == nil || !anyKnown(t) {
		return "", nil
	}
	sheet := garage.NewBenchSheet(&snap.Bank, garage.SheetTogether)
	if old := r.lastSheet(); old != nil && len(old.Carburettors) == snap.Bank.Cylinders {
		sheet.Carburettors = append(sheet.Carburettors[:0], old.Carburettors...)
	}
	sheet.Program, sheet.Time, sheet.Moment, sheet.PilotScrews = version, time.Now(), garage.SheetTogether, screws
	sheet.Note = "pilot screws as trimmed on the running engine"
	for i, out := range t.TurnsOut() {
		if !math.IsNaN(out) {
			sheet.Carburettors[i].PilotTurnsOut = garage.NullFloat(out)
		}
	}
	return r.garage.SaveBench(r.bike.Name, &sheet)
}

// lastSheet returns the bike's newest bench sheet, nil without one.
func (r *rig) lastSheet() *garage.BenchSheet {
	if r.bike == nil {
		return nil
	}
	sheets, _ := r.garage.ListBench(r.bike.Name)
	if len(sheets) == 0 {
		return nil
	}
	return &sheets[len(sheets)-1].Sheet
}
