package job

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// keeper saves levelling records, and what was learned of the screws. Of a run on a real
// bike it keeps an unfinished record as well, which a crash leaves behind. Its
// methods write to the disk, and may be called from several goroutines.
type keeper struct {
	own    ownership
	engine string // which practice engine it is, "" for one without a story
	begun  time.Time
	seen   bool             // a lock nut that is seen to be tight counts as said to be: a virtual hand tightened it
	found  func() string    // what was found and mended at a practice engine, "" for nothing; nil elsewhere
	turned func() []float64 // the net turns of the screws where they are known better than seen, nil elsewhere

	mu          sync.Mutex // guards all below
	set         *settings.Settings
	unit        string    // that the user sees
	warmth      string    // of the engine, as far as it is known
	capture     string    // path, "" without one
	zeroAt      time.Time // of a zero pass taken in this run
	note        string
	unfinished  *garage.Unfinished // nil while there is nothing to lose
	kept        int                // turns that the last record holds
	level       bool               // the last record says that the bank was level
	pilots      []mixture.Pilot    // as the last record holds them
	raised      bool               // the look at the raised speed is in a record, or told in print
	noted, told string             // the note of the last record, and what that tells of what was found
	card        string             // the bike of the last record, or for which a card was made
	nuts        []string           // screws whose lock nuts are not confirmed tight
	bare        bool               // the last record has no reading after the last turn
	written     bool               // the unfinished record holds something of this run that no other does
	usable      *session.Snapshot  // the last whose reading can stand in a record, at idle where there was one
	last        *session.Snapshot  // the last of which a crash is to leave something behind
	owed        *session.Snapshot  // of the record that could not be saved, nil without one
	elsewhere   *garage.Garage     // takes the records in place of the settings' garage, nil for that
}

// remark sets the note of the records to come.
func (k *keeper) remark(note string) { k.change(func() { k.note = note }) }

// change changes what the mutex guards, while nothing is being written.
func (k *keeper) change(do func()) {
	k.mu.Lock()
	defer k.mu.Unlock()
	do()
}

// errNothing is why there is no record before the first reading.
var errNothing = errors.New("nothing to save yet: no cycle has been read on every cylinder")

// errReplay is why a capture that is shown again leaves no record.
var errReplay = errors.New("a replay saves nothing")

// save writes a record of a snapshot and returns its path.
func (k *keeper) save(snap *session.Snapshot) (string, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.own == recordNone {
		return "", errReplay
	}
	k.noteNuts(snap)
	if snap = k.bestRead(snap); snap == nil {
		return "", errNothing
	}
	return k.saveHere(snap)
}

// saveHere is save of what can be saved; what can't for want of room is owed.
func (k *keeper) saveHere(snap *session.Snapshot) (string, error) {
	k.owed = snap
	bike, err := k.bikeFor(snap)
	if err != nil {
		return "", err
	}
	rec, path := k.record(snap), ""
	if rec.Verdict == garage.VerdictSaved && k.level && rec.After != nil && len(snap.Journal.Steps) == k.kept &&
		snap.Reading.Spread <= rec.AimKPa {
		rec.Verdict = verdictDone(snap.Reading) // nothing was turned at the bank since
	}
	if k.unfinished != nil {
		path, err = k.unfinished.Finish(rec)
	} else {
		path, err = k.garage().SaveSync(bike, rec)
	}
	if path == "" {
		return "", err
	}
	k.owed, k.level = nil, rec.Verdict != garage.VerdictSaved
	k.unfinished, k.kept, k.pilots, k.written = nil, len(snap.Journal.Steps), snap.Tune.Pilots, false
	k.raised, k.noted, k.told, k.card = lookedRaised(snap), k.note, k.findings(), bike
	k.bare = rec.After == nil
	if err == nil {
		err = k.learned(bike, snap)
	}
	return path, err
}

// historyVerb lists the records of the last bike.
const historyVerb = "evendraw history"

// what names the last record as a person does.
func (k *keeper) what() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	text := "a record"
	if k.card != "" {
		text += " of " + k.card
	}
	if k.bare {
		text += ", without a reading: none came after the last turn"
	}
	if nuts := tell.NutsWords(k.nuts); nuts != "" {
		text += "; " + nuts
	}
	return text
}

// see is the command that lists the last record, whatever bike was worked on last.
func (k *keeper) see() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	text := historyVerb
	if k.elsewhere != nil || k.set.GarageNamed {
		text += ` --garage "` + k.garage().Paths().Dir + `"`
	}
	if k.set.Bike == nil || k.card != k.set.Bike.Name {
		text += ` --bike "` + k.card + `"`
	}
	return text
}

// raisedTold notes that the look at the raised speed is told in print, and needs no record.
func (k *keeper) raisedTold() { k.change(func() { k.raised = true }) }

// lookedRaised reports whether the bank was looked at at the raised speed.
func lookedRaised(snap *session.Snapshot) bool {
	return snap.Tune.Raised != nil && snap.Tune.Raised.Done
}

// learned keeps what was learned of the screws, and of the user's hand at a real bike.
func (k *keeper) learned(bike string, snap *session.Snapshot) error {
	effects := map[string]float64{}
	for i, e := range snap.Effects {
		if e != 0 {
			effects[snap.Bank.Screws[i].Name] = e
		}
	}
	var err error
	if len(effects) > 0 {
		err = k.garage().SaveEffects(bike, effects)
	}
	if i := &snap.Config.Idle; err == nil && k.own == recordPractice && i.HighRPM > 0 {
		err = k.garage().SaveIdle(bike, i.LowRPM, i.HighRPM)
	}
	if h := &snap.Hand; err == nil && k.own == recordBike && h.Learned() {
		err = k.garage().SaveHand(bike, h.Lag, h.RunOn)
	}
	if err != nil {
		return fmt.Errorf("the record is saved, but not what was learned of screws and hand: %w", err)
	}
	return nil
}

// resume goes on with the run of the bike that was cut off last, if that is not long
// ago, and says so; "" when there is none.
func (k *keeper) resume(now time.Time) string {
	if k.own != recordBike || k.set.Bike == nil {
		return ""
	}
	left, _ := k.set.Garage.ListUnfinished()
	for _, l := range slices.Backward(left) {
		if l.Record.Bike != k.set.Bike.Name || now.Sub(l.Record.Time).Abs() > placeFor {
			continue
		}
		u, err := k.set.Garage.Resume(l.Path)
		if errors.Is(err, garage.ErrHeld) {
			continue
		}
		if err != nil {
			return "A run of this bike was cut off, and its record can't be read: " + err.Error()
		}
		k.unfinished = u
		return "The run that was cut off at " + l.Record.Time.Local().Format("15:04") +
			" goes on: its turns are in the next record."
	}
	return ""
}

// update writes what a crash is to leave behind, once there is something that no record holds: a turn, a look at the
// raised speed, a note.
func (k *keeper) update(snap *session.Snapshot) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.updateHere(snap)
}

func (k *keeper) updateHere(snap *session.Snapshot) error {
	k.noteNuts(snap)
	k.last = snap
	if session.Usable(snap.Reading) && k.bestRead(snap) == snap {
		k.usable = snap
	}
	k.raised = k.raised && lookedRaised(snap)
	k.written = k.written || len(snap.Journal.Steps) > k.kept || k.pilotsMoved(snap) ||
		lookedRaised(snap) && !k.raised || k.note != k.noted
	if k.own != recordBike || k.usable == nil || !k.written {
		if k.unfinished != nil {
			k.unfinished.Hold()
		}
		return nil
	}
	snap = k.bestRead(snap)
	if k.unfinished == nil {
		bike, err := k.bikeFor(snap)
		if err != nil {
			return err
		}
		if k.unfinished, err = k.garage().OpenUnfinished(bike); err != nil {
			return err
		}
	}
	return k.unfinished.Update(k.record(snap))
}

// bestRead is a snapshot with the bank as it was read last at idle since the last turn, else as it can be read now,
// else as it could be read last: the engine may stand, or its speed move. It is nil where the bank was never read.
func (k *keeper) bestRead(snap *session.Snapshot) *session.Snapshot {
	now := session.Usable(snap.Reading)
	if session.AtIdle(snap) ||
		now && (k.usable == nil || !session.AtIdle(k.usable) || turnedSince(k.usable, snap)) {
		return snap
	}
	if k.usable == nil {
		return nil
	}
	s := *snap
	s.Reading = k.usable.Reading
	if r := snap.Reading; r != nil && r.Advice.Kind == advice.Done && !turnedSince(k.usable, snap) {
		level := *k.usable.Reading // it is told level before the speed has come down
		level.Advice, level.Halts = r.Advice, r.Halts
		s.Reading = &level
	}
	return &s
}

// turnedSince reports whether a synchronising screw was turned between two snapshots.
func turnedSince(a, b *session.Snapshot) bool { return len(b.Journal.Steps) > len(a.Journal.Steps) }

// pilotsMoved reports whether a pilot screw has been turned, or its best found, that no record holds.
func (k *keeper) pilotsMoved(snap *session.Snapshot) bool {
	for i, p := range snap.Tune.Pilots {
		var was mixture.Pilot
		if i < len(k.pilots) {
			was = k.pilots[i]
		}
		if p.Moved != was.Moved || p.Found != was.Found && (p.Found.Final() || p.Found == mixture.ToSet) {
			return true
		}
	}
	return false
}

// earlierPilots are the pilot screws of the run that is gone on with: one that was cut off, else the bike's last
// record if that is not long ago; nil without one.
func (k *keeper) earlierPilots(now time.Time) []mixture.Pilot {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.own != recordBike || k.set.Bike == nil {
		return nil
	}
	cylinders := k.set.Bike.Bank.Cylinders
	if k.unfinished != nil && k.unfinished.Earlier != nil {
		k.pilots = pilotsOf(k.unfinished.Earlier, cylinders)
		return k.pilots
	}
	records, _ := k.set.Garage.ListSyncs(k.set.Bike.Name)
	if n := len(records); n > 0 && now.Sub(records[n-1].Record.Time).Abs() < placeFor {
		k.pilots = pilotsOf(&records[n-1].Record, cylinders)
	}
	return k.pilots
}

// end keeps what was not saved when the run ends with a snapshot, nil without one: as the record that is owed, or that
// a practice's remark is for, else as an unfinished one, and returns its path; "" when there was nothing. On an error
// it can be tried again.
func (k *keeper) end(snap *session.Snapshot) (path string, err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.owed != nil {
		return k.saveHere(k.owed)
	}
	if snap != nil {
		err = k.updateHere(snap)
	}
	if k.own == recordPractice && k.unsaidHere() != "" && k.usable != nil && session.AtIdle(k.usable) {
		return k.saveHere(k.bestRead(snap))
	}
	if k.unfinished == nil || err != nil {
		return "", err
	}
	if path, err = k.unfinished.Keep(); err == nil {
		k.unfinished = nil
		if snap != nil { // the next run goes on by what was learned; the record that was kept holds it as well
			if bike, err := k.bikeFor(snap); err == nil {
				k.learned(bike, snap)
			}
		}
	}
	return path, err
}

// bikeFor returns the name of the bike that the record of a snapshot belongs to. Without a card
// one is made, so that nothing is lost.
func (k *keeper) bikeFor(snap *session.Snapshot) (string, error) {
	name, b := "Bike without a name", &snap.Bank
	g := k.garage()
	switch {
	case k.own == recordPractice && k.card != "":
		name = k.card
	case k.own == recordPractice:
		name = g.FreeName(practice.CardName(k.begun, k.engine))
	case k.set.Bike != nil && k.elsewhere == nil:
		return k.set.Bike.Name, nil
	case k.set.Bike != nil:
		err := g.NewBike(k.set.Bike)
		if errors.Is(err, fs.ErrExist) {
			err = nil
		}
		return k.set.Bike.Name, err
	}
	if old, err := g.LoadBike(name); err == nil && !old.Bank.SameScrews(b) {
		name = fmt.Sprintf("%s, %d cylinders, screws %s", name, b.Cylinders, strings.Join(tell.ScrewNames(b), " "))
	}
	if _, err := g.LoadBike(name); err == nil {
		return name, nil
	}
	card := garage.DefaultBike(name, b.Cylinders)
	card.Bank, card.Unit = *b, k.unit
	card.Reference = cmp.Or(snap.Config.Reference, card.Reference)
	card.AimKPa, card.LimitKPa = k.set.Limits()
	card.IdleRPMLow, card.IdleRPMHigh = snap.Config.Idle.LowRPM, snap.Config.Idle.HighRPM
	if k.own == recordPractice {
		card.Note = "Records of a practice engine, invented for one run; no real bike."
	}
	err := g.NewBike(&card)
	if err == nil {
		k.card = name
	}
	return name, err
}
