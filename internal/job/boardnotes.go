package job

import (
	"evendraw/internal/garage"
	"evendraw/internal/keep"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// warmth watches for sensors that move or warm in a run, and tells of each once.
type warmth struct {
	drift    float64 // time of the drift told of
	warm     bool
	zero     any     // the zero pass that this is about
	zeroIdle float64 // how long the engine had run when it was taken, s

	serial string  // of the board whose card was read
	after  float64 // minutes of running after which its sensors are warm; 0 is the usual
}

// note returns what is to be told of the sensors now, "" if there is nothing new: sensors that were seen to have
// moved while the engine stood, or that have warmed since the zero pass.
func (t *warmth) note(snap *session.Snapshot, warmMin float64) string {
	if !snap.Config.Zeroed {
		return ""
	}
	if z := any(snap.Zero.Result); z != t.zero {
		t.drift, t.warm, t.zero, t.zeroIdle = 0, false, z, snap.Journal.Idling
	}
	if d := snap.Drift; d.Asks && d.Time != t.drift {
		t.drift = d.Time
		return tell.DriftNote(snap)
	}
	if ran := (snap.Journal.Idling - t.zeroIdle) / 60; ran > warmMin && !t.warm {
		t.warm = true
		return tell.WarmNote(ran)
	}
	return ""
}

// tellBoard tells what is new of the board's sensors, on the screen or on standard error.
func (l *live) tellBoard(v *view.View) {
	snap := l.sess.Snapshot()
	note := l.warmth.note(snap, l.warmMin(snap))
	if note == "" {
		return
	}
	*v = view.Update(*v, view.Told{Text: note, Role: view.Warn})
	if !l.onScreen {
		l.std.Warn(note)
	}
}

// warmMin is after how many minutes of a running engine the sensors have warmed, by the board's card.
func (l *live) warmMin(snap *session.Snapshot) float64 {
	if w := &l.warmth; l.src.own() == keep.Bike && snap.Board != nil {
		if w.serial != snap.Board.Serial {
			card, _ := l.set.BoardCard(snap.Board)
			w.serial, w.after = snap.Board.Serial, card.WarmUpMin
		}
		if w.after > 0 {
			return w.after
		}
	}
	return garage.DefaultWarmUpMin
}
