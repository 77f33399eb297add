package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/session"
)

// keeper saves sync records, and what was learned of the screws.
type keeper struct {
	rig      *rig
	practice bool
	mu       sync.Mutex
	capture  string    // path, "" without one; guarded by mu
	zeroAt   time.Time // of a zero pass taken in this run
	unit     string
	note     string
}

// practiceBike is the card that records of the practice engine go to.
const practiceBike = "Practice engine (invented)"

// keepsCapture tells which capture records belong to.
func (k *keeper) keepsCapture(path string) {
	k.mu.Lock()
	k.capture = path
	k.mu.Unlock()
}

// save writes a record of the newest snapshot and returns its path.
func (k *keeper) save(snap *session.Snapshot) (string, error) {
	if !session.Usable(snap.Reading) {
		return "", fmt.Errorf("nothing to save yet: no cycle has been read on every cylinder")
	}
	bike, err := k.bikeFor(&snap.Bank)
	if err != nil {
		return "", err
	}
	rec := k.record(snap)
	path, err := k.rig.garage.SaveSync(bike, rec)
	if err != nil {
		return "", err
	}
	effects := map[string]float64{}
	for i, e := range snap.Effects {
		if e != 0 {
			effects[snap.Bank.Screws[i].Name] = e
		}
	}
	if len(effects) > 0 && !k.practice {
		if err := k.rig.garage.SaveEffects(bike, effects); err != nil {
			return path, fmt.Errorf("the record is saved, but not what was learned of the screws: %w", err)
		}
	}
	return path, nil
}

// bikeFor returns the name of the bike that a record belongs to. Without a card
// one is made, so that nothing is lost.
func (k *keeper) bikeFor(b *bank.Bank) (string, error) {
	name := "Bike without a name"
	switch {
	case k.practice:
		name = practiceBike
	case k.rig.bike != nil:
		return k.rig.bike.Name, nil
	}
	if old, err := k.rig.garage.LoadBike(name); err == nil && !sameScrews(&old.Bank, b) {
		name = fmt.Sprintf("%s, %d cylinders, screws %s", name, b.Cylinders, strings.ReplaceAll(screwNames(b), ", ", " "))
	}
	if _, err := k.rig.garage.LoadBike(name); err == nil {
		return name, nil
	}
	card := garage.DefaultBike(name, b.Cylinders)
	card.Bank = *b
	if k.practice {
		card.Note = "Records made on the practice engine; no real bike."
	}
	return name, k.rig.garage.NewBike(&card)
}

// sameScrews reports whether two banks have the same cylinders and screws, so that
// their records belong together.
func sameScrews(a, b *bank.Bank) bool {
	return a.Cylinders == b.Cylinders && slices.EqualFunc(a.Screws, b.Screws, func(x, y bank.Screw) bool {
		return x.Name == y.Name && slices.Equal(x.Moves, y.Moves)
	})
}

// record fills in a record.
func (k *keeper) record(snap *session.Snapshot) *garage.SyncRecord {
	cfg := &snap.Config
	aim, limit := k.rig.limits()
	rec := &garage.SyncRecord{
		Program: version, Time: time.Now(), AmbientKPa: garage.NullKPa(cfg.Ambient), Reference: snap.Reading.Reference,
		Unit: k.unit, AimKPa: aim, LimitKPa: limit, After: garage.ReadingRecord(snap.Reading), Steps: syncSteps(&snap.Journal),
		IdlingSeconds: snap.Journal.Idling, Verdict: garage.VerdictSaved, Note: k.note,
	}
	if snap.Board != nil {
		rec.Board = garage.RecordBoard{Serial: snap.Board.Serial, Model: snap.Board.Model, Program: snap.Board.Program}
		rec.Sensors = kindsOf(&cfg.Setup, len(snap.Board.Channels))
	}
	if snap.Journal.Before != nil {
		rec.Before = garage.ReadingRecord(snap.Journal.Before)
	}
	if cfg.Zeroed {
		at := cfg.ZeroedAt
		if snap.Zero.Result != nil {
			at = k.zeroAt
		}
		rec.Zero = &garage.RecordZero{Time: at, AmbientKPa: cfg.Ambient, OffsetsKPa: cfg.Setup.Offsets}
	}
	addTune(rec, snap)
	if snap.Reading.Advice.Kind == balance.Done {
		rec.Verdict = garage.VerdictDone
	}
	k.mu.Lock()
	if k.capture != "" {
		rec.Capture = filepath.Base(k.capture)
	}
	k.mu.Unlock()
	return rec
}
