package main

import (
	"fmt"

	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// tune does what the steps after levelling ask of the session.
func (l *live) tune(kind view.WantKind, limit pressure.KPa) (err error) {
	l.sess.Chain(func(c *session.Chain) {
		switch kind {
		case view.LookIdle:
			c.RestartIdle()
		case view.LookRaised:
			err = c.StartRaised(mixture.RaisedConfig{RPM: l.raisedRPM(), Limit: limit})
		case view.TrimPilots:
			err = c.StartTrim(l.trimConfig())
		case view.TrimMade:
			c.TrimMade()
		case view.EndTune:
			c.StopTrim()
			c.StopRaised()
		}
	})
	if err != nil {
		err = fmt.Errorf("not yet: no frames come")
	}
	return err
}

// raisedRPM is the speed of the raised-speed look, 0 for the usual.
func (l *live) raisedRPM() float64 {
	if l.src.own() == bikes && l.rig.bike != nil {
		return l.rig.bike.RaisedRPM
	}
	return 0
}

// trimConfig is what the bike's card and its newest bench sheet say of the pilot screws.
func (l *live) trimConfig() mixture.TrimConfig {
	if p := l.practice(); p != nil {
		return p.trimConfig()
	}
	b := l.rig.bike
	if b == nil {
		return mixture.TrimConfig{}
	}
	cfg := mixture.TrimConfig{Screws: mixture.Screws(b.PilotScrews), Target: b.LambdaTarget}
	if sheets, _ := l.rig.garage.ListBench(b.Name); len(sheets) > 0 { // what can't be read is unknown
		for _, c := range sheets[len(sheets)-1].Sheet.Carburettors {
			cfg.TurnsOut = append(cfg.TurnsOut, float64(c.PilotTurnsOut))
		}
	}
	return cfg
}

// trimConfig is what a sheet would say of the practice engine's pilot screws.
func (p *practice) trimConfig() mixture.TrimConfig {
	cfg := mixture.TrimConfig{Screws: mixture.FuelScrews}
	for _, c := range p.engine.Truth().Cylinders {
		cfg.TurnsOut = append(cfg.TurnsOut, c.PilotOut)
	}
	return cfg
}

// recordTune fills in what the steps after levelling have found.
func recordTune(rec *garage.SyncRecord, snap *session.Snapshot) {
	t := &snap.Tune
	rec.StopEffectRPMPerTurn = garage.NullFloat(t.Idle.EffectRPMPerTurn)
	if t.Trim != nil {
		for _, out := range t.Trim.TurnsOut() {
			rec.PilotTurnsOut = append(rec.PilotTurnsOut, garage.NullFloat(out))
		}
	}
	if t.Lambda != nil {
		rec.Lambda = garage.NullFloat(t.Lambda.Lambda)
	}
	if t.Raised != nil && t.Raised.Done {
		rec.Raised = raisedRecord(&t.Raised.Raised, snap)
	}
}

// raisedRecord is how the bank stood at the raised speed, as a record keeps a reading.
func raisedRecord(l *mixture.Level, snap *session.Snapshot) *garage.RecordReading {
	r := *snap.Reading
	r.RPM, r.Spread, r.Cycles, r.SpreadUncertainty = l.RPM, l.Spread, l.Cycles, unknownKPa
	r.Cylinders = append(r.Cylinders[:0:0], r.Cylinders...)
	ref := r.Reference - 1
	for i := range r.Cylinders {
		c := &r.Cylinders[i]
		c.Draw, c.Difference, c.Uncertainty = l.Draw[i], l.Off[i]-l.Off[ref], l.Uncertainty[i]+l.Uncertainty[ref]
		c.Ripple, c.Opening, c.OpeningUncertainty = unknownKPa, unknown, unknown
	}
	return garage.ReadingRecord(&r)
}
