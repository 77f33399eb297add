package keep

import (
	"math"
	"slices"

	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/session"
)

// addTune fills in what the stages after levelling told.
func addTune(rec *garage.SyncRecord, snap *session.Snapshot) {
	if idle := &snap.Config.Idle; idle.LowRPM > 0 && idle.HighRPM > 0 {
		rec.IdleWanted = &garage.RecordRange{LowRPM: idle.LowRPM, HighRPM: idle.HighRPM}
	}
	rec.StopEffectRPMPerTurn = garage.NullFloat(snap.Tune.Idle.EffectRPMPerTurn)
	rec.Lambda = garage.NullFloat(math.NaN())
	if p := snap.Tune.Lambda; p != nil && !p.AtEnd {
		rec.Lambda = garage.NullFloat(p.Lambda)
	}
	known := slices.ContainsFunc(snap.Tune.Pilots, func(p mixture.Pilot) bool { return !math.IsNaN(p.Out) })
	for i := range snap.Tune.Pilots {
		p := &snap.Tune.Pilots[i]
		if known {
			rec.PilotTurnsOut = append(rec.PilotTurnsOut, garage.NullFloat(p.Out))
		}
		if p.Found != mixture.Pending {
			rec.Pilots = append(rec.Pilots, garage.RecordPilot{Cylinder: p.Cylinder, Found: string(p.Found),
				StartTurnsOut: garage.NullFloat(p.StartOut), MovedTurns: p.Moved, BestTurns: garage.NullFloat(p.Best),
				UncertaintyTurns: garage.NullFloat(p.Uncertainty), Seconds: p.Seconds, OpenTurns: p.Open})
		}
	}
}

// pilotsOf are the pilot screws that a record holds, for a trim that is gone on with; nil for none.
func pilotsOf(rec *garage.SyncRecord, cylinders int) []mixture.Pilot {
	if len(rec.Pilots) == 0 {
		return nil
	}
	out := make([]mixture.Pilot, cylinders)
	for i := range out {
		turns := math.NaN()
		if i < len(rec.PilotTurnsOut) {
			turns = float64(rec.PilotTurnsOut[i])
		}
		out[i] = mixture.NewPilot(i+1, turns)
	}
	for _, r := range rec.Pilots {
		if r.Cylinder < 1 || r.Cylinder > cylinders {
			continue
		}
		p := &out[r.Cylinder-1]
		p.Found, p.StartOut, p.Moved = mixture.Found(r.Found), float64(r.StartTurnsOut), r.MovedTurns
		p.Out, p.Best, p.Uncertainty = p.StartOut+p.Moved, float64(r.BestTurns), float64(r.UncertaintyTurns)
		p.Seconds, p.Open = r.Seconds, r.OpenTurns
	}
	return out
}

// raisedRecord is how the bank stood at the raised speed, as a record keeps a reading.
func raisedRecord(l *raised.Level, snap *session.Snapshot) *garage.RecordReading {
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
