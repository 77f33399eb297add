package main

import (
	"fmt"
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// rigTold is what has been told of the rig in this run.
type rigTold struct {
	drift    float64 // time of the drift told of
	warm     bool
	zero     any     // the zero pass that this is about
	zeroIdle float64 // how long the engine had run when it was taken, s
}

// rigNote returns what is to be told of the rig now, "" if there is nothing new: sensors that were seen to have
// moved while the engine stood, or that have warmed since the zero pass.
func (t *rigTold) rigNote(snap *session.Snapshot, warmMin float64) string {
	if !snap.Config.Zeroed {
		return ""
	}
	if z := any(snap.Zero.Result); z != t.zero {
		*t = rigTold{zero: z, zeroIdle: snap.Journal.Idling}
	}
	if d := snap.Drift; d.Asks && d.Time != t.drift {
		t.drift = d.Time
		return view.DriftNote(snap)
	}
	if ran := (snap.Journal.Idling - t.zeroIdle) / 60; ran > warmMin && !t.warm {
		t.warm = true
		return view.WarmNote(ran)
	}
	return ""
}

// tellRig tells what is new of the rig, on the screen or on standard error.
func (l *live) tellRig(v *view.View) {
	snap := l.sess.Snapshot()
	note := l.rigTold.rigNote(snap, l.warmMin(snap))
	if note == "" {
		return
	}
	*v = view.Update(*v, view.Told{Text: note, Role: view.Warn})
	if !l.onScreen {
		fmt.Fprintln(l.err, "evendraw: "+note)
	}
}

// warmMin is after how many minutes of a running engine the sensors have warmed, by the board's card.
func (l *live) warmMin(snap *session.Snapshot) float64 {
	if l.src.own() == bikes && snap.Board != nil {
		if l.warmOf != snap.Board.Serial {
			l.warmOf = snap.Board.Serial
			card, _ := l.rig.boardCard(snap.Board)
			l.warm = card.WarmUpMin
		}
		if l.warm > 0 {
			return l.warm
		}
	}
	return garage.DefaultWarmUpMin
}

// rigRecord puts what of the rig changes a reading into a record.
func rigRecord(rec *garage.SyncRecord, snap *session.Snapshot) {
	cfg := &snap.Config
	if len(cfg.Setup.Gains) > 0 {
		rec.Match = &garage.RecordMatch{Time: cfg.MatchedAt.UTC().Truncate(time.Second), Gains: cfg.Setup.Gains}
	}
	a := snap.Board
	if a == nil {
		return
	}
	rec.Rig = &garage.RecordRig{Bits: a.Bits, ReferenceMV: a.ReferenceMV, Ratiometric: a.Ratiometric, Rate: a.Rate, SupplyMV: cfg.Setup.SupplyMV,
		Channels: snap.Bank.Channels, OffsetUncertaintyKPa: cfg.ZeroUncertainty, CommonDriftKPa: garage.NullKPa(math.NaN())}
	if d := &snap.Drift; d.Seen {
		rec.Rig.CommonDriftKPa = garage.NullKPa(d.Common)
		for _, channel := range snap.Bank.Channels {
			rec.Rig.DriftKPa = append(rec.Rig.DriftKPa, garage.NullKPa(d.Own[channel]))
		}
	}
}
