package job

import (
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
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
func saveSheet(set *Settings, snap *session.Snapshot, screws string) (string, error) {
	t := snap.Tune.Trim
	if set.Bike == nil || t == nil || !anyKnown(t) {
		return "", nil
	}
	sheet := garage.NewBenchSheet(&snap.Bank, garage.SheetTogether)
	if old := set.lastSheet(); old != nil && len(old.Carburettors) == snap.Bank.Cylinders {
		sheet.Carburettors = append(sheet.Carburettors[:0], old.Carburettors...)
	}
	sheet.Program, sheet.Time, sheet.Moment, sheet.PilotScrews = set.Version, time.Now(), garage.SheetTogether, screws
	sheet.Note = "pilot screws as trimmed on the running engine"
	for i, out := range t.TurnsOut() {
		if !math.IsNaN(out) {
			sheet.Carburettors[i].PilotTurnsOut = garage.NullFloat(out)
		}
	}
	return set.Garage.SaveBench(set.Bike.Name, &sheet)
}

// raisedRecord is how the bank stood at the raised speed, as a record keeps a reading.
func raisedRecord(l *mixture.Level, snap *session.Snapshot) *garage.RecordReading {
	r, nan := *snap.Reading, pressure.KPa(math.NaN())
	r.RPM, r.Spread, r.Cycles, r.SpreadUncertainty = l.RPM, l.Spread, l.Cycles, nan
	r.Cylinders = append(r.Cylinders[:0:0], r.Cylinders...)
	ref := r.Reference - 1
	for i := range r.Cylinders {
		c := &r.Cylinders[i]
		c.Draw, c.Difference, c.Uncertainty = l.Draw[i], l.Off[i]-l.Off[ref], l.Uncertainty[i]+l.Uncertainty[ref]
		c.Ripple, c.Opening, c.OpeningUncertainty = nan, math.NaN(), math.NaN()
	}
	return garage.ReadingRecord(&r)
}
