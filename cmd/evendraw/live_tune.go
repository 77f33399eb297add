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
		return mixture.TrimConfig{TurnsOut: p.pilots, Screws: mixture.FuelScrews}
	}
	// A screen has no flags for the trim, so nothing can be wrong with them.
	cfg, _ := (&mixtureOptions{}).trimConfig(l.rig, l.sess.Snapshot().Bank.Cylinders)
	return cfg
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
