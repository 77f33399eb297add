package keep

import (
	"errors"
	"slices"
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

// Ownership is whose records a run makes.
type Ownership int

// The owners of records.
const (
	None     Ownership = iota // nobody's: none is made
	Practice                  // the practice engine's
	Bike                      // the bike's
)

// Options say whose records a run makes, and what is known of it as it begins.
type Options struct {
	Own      Ownership
	Note     string         // remark for the records
	Practice *practice.Bike // nil without one
	NutsSeen bool           // a lock nut that is seen to be tight counts as said to be: a virtual hand tightened it
}

// Keeper saves levelling records, and what was learned of the screws. Of a run on a real bike it keeps an unfinished
// record as well, which a crash leaves behind. Its methods write to the disk, and may be called from several
// goroutines.
type Keeper struct {
	opt   Options
	begun time.Time

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

// New returns the keeper of a run that begins.
func New(set *settings.Settings, o Options) *Keeper {
	return &Keeper{opt: o, begun: time.Now(), set: set, unit: set.Unit().Name, note: o.Note, noted: o.Note}
}

// GoOnFor is for how long a run that was cut off, or left, can be gone on with. Chosen: a morning's work is gone on
// with after lunch, not next week.
const GoOnFor = 12 * time.Hour

// ChangeBike has the records to come be of the bike of other settings.
func (k *Keeper) ChangeBike(set *settings.Settings) { k.change(func() { k.set, k.nuts = set, nil }) }

// Shown notes what the user sees: the unit, and how warm the engine is, as far as it is known.
func (k *Keeper) Shown(unit, warmth string) { k.change(func() { k.unit, k.warmth = unit, warmth }) }

// CaptureIn notes the file in which the run's bytes are kept.
func (k *Keeper) CaptureIn(path string) { k.change(func() { k.capture = path }) }

// ZeroTaken notes when a zero pass was taken in this run.
func (k *Keeper) ZeroTaken(at time.Time) { k.change(func() { k.zeroAt = at }) }

// Remark sets the note of the records to come.
func (k *Keeper) Remark(note string) { k.change(func() { k.note = note }) }

// change changes what the mutex guards, while nothing is being written.
func (k *Keeper) change(do func()) {
	k.mu.Lock()
	defer k.mu.Unlock()
	do()
}

// ErrNothing is why there is no record before the first reading.
var ErrNothing = errors.New("nothing to save yet: no cycle has been read on every cylinder")

// ErrReplay is why a capture that is shown again leaves no record.
var ErrReplay = errors.New("a replay saves nothing")

// Save writes a record of a snapshot and returns its path.
func (k *Keeper) Save(snap *session.Snapshot) (string, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.opt.Own == None {
		return "", ErrReplay
	}
	k.noteNuts(snap)
	if snap = k.bestRead(snap); snap == nil {
		return "", ErrNothing
	}
	return k.saveHere(snap)
}

// saveHere is save of what can be saved; what can't for want of room is owed.
func (k *Keeper) saveHere(snap *session.Snapshot) (string, error) {
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

// HistoryVerb lists the records of the last bike.
const HistoryVerb = "evendraw history"

// What names the last record as a person does.
func (k *Keeper) What() string {
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

// See is the command that lists the last record, whatever bike was worked on last.
func (k *Keeper) See() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	text := HistoryVerb
	if k.elsewhere != nil || k.set.GarageNamed {
		text += ` --garage "` + k.garage().Paths().Dir + `"`
	}
	if k.set.Bike == nil || k.card != k.set.Bike.Name {
		text += ` --bike "` + k.card + `"`
	}
	return text
}

// RaisedTold notes that the look at the raised speed is told in print, and needs no record.
func (k *Keeper) RaisedTold() { k.change(func() { k.raised = true }) }

// lookedRaised reports whether the bank was looked at at the raised speed.
func lookedRaised(snap *session.Snapshot) bool {
	return snap.Tune.Raised != nil && snap.Tune.Raised.Done
}

// Resume goes on with the run of the bike that was cut off last, else with its last record, if that is not long ago:
// note says so of a run, "" where there is none; pilots are the pilot screws as they stood, nil where nothing tells.
func (k *Keeper) Resume(now time.Time) (note string, pilots []mixture.Pilot) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.opt.Own != Bike || k.set.Bike == nil {
		return "", nil
	}
	note = k.takeUp(now)
	var rec *garage.SyncRecord
	if k.unfinished != nil {
		rec = k.unfinished.Earlier
	}
	records, _ := k.set.Garage.ListSyncs(k.set.Bike.Name)
	if n := len(records); rec == nil && n > 0 && now.Sub(records[n-1].Kept.Time).Abs() < GoOnFor {
		rec = &records[n-1].Kept
	}
	if rec != nil {
		k.pilots = pilotsOf(rec, k.set.Bike.Bank.Cylinders)
	}
	return note, k.pilots
}

// takeUp takes up what a run of the bike that was cut off has left, and says so; "" where nothing was left.
func (k *Keeper) takeUp(now time.Time) string {
	left, _ := k.set.Garage.ListUnfinished()
	for _, l := range slices.Backward(left) {
		if l.Kept.Bike != k.set.Bike.Name || now.Sub(l.Kept.Time).Abs() > GoOnFor {
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
		return "The run that was cut off at " + l.Kept.Time.Local().Format("15:04") +
			" goes on: its turns are in the next record."
	}
	return ""
}

// Update writes what a crash is to leave behind, once there is something that no record holds: a turn, a look at the
// raised speed, a note.
func (k *Keeper) Update(snap *session.Snapshot) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.updateHere(snap)
}

func (k *Keeper) updateHere(snap *session.Snapshot) error {
	k.noteNuts(snap)
	k.last = snap
	if session.Usable(snap.Reading) && k.bestRead(snap) == snap {
		k.usable = snap
	}
	k.raised = k.raised && lookedRaised(snap)
	k.written = k.written || len(snap.Journal.Steps) > k.kept || k.pilotsMoved(snap) ||
		lookedRaised(snap) && !k.raised || k.note != k.noted
	if k.opt.Own != Bike || k.usable == nil || !k.written {
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

// wellRead is how many cycles a reading at idle needs to take the place of one before it, nothing turned between them.
// Chosen: three seconds; an engine that has just come down from a raised speed read 1.0 ±1.3 kPa for 0.2 ±0.1.
const wellRead = 24

// bestRead is a snapshot with the bank as it was read last at idle since the last turn, else as it can be read now,
// else as it could be read last: the engine may stand, or its speed move. It is nil where the bank was never read.
func (k *Keeper) bestRead(snap *session.Snapshot) *session.Snapshot {
	now := session.Usable(snap.Reading)
	if session.AtIdle(snap) && snap.Reading.Cycles >= wellRead ||
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
func (k *Keeper) pilotsMoved(snap *session.Snapshot) bool {
	for i, p := range snap.Tune.Pilots {
		was := k.pilot(i)
		if p.Moved != was.Moved || p.Found != was.Found && (p.Found.Final() || p.Found == mixture.ToSet) {
			return true
		}
	}
	return false
}

// trimmed reports whether a pilot screw has been set to its best that no record holds.
func (k *Keeper) trimmed() bool {
	if k.last == nil {
		return false
	}
	for i, p := range k.last.Tune.Pilots {
		if was := k.pilot(i); p.Found.Final() && (p.Found != was.Found || p.Moved != was.Moved) {
			return true
		}
	}
	return false
}

// pilot is a pilot screw as the last record holds it.
func (k *Keeper) pilot(i int) (p mixture.Pilot) {
	if i < len(k.pilots) {
		p = k.pilots[i]
	}
	return p
}

// End keeps what was not saved when the run ends with a snapshot, nil without one: as the record that is owed, or that
// a practice has something for, else as an unfinished one, and returns its path; "" when there was nothing. On an error
// it can be tried again.
func (k *Keeper) End(snap *session.Snapshot) (path string, err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.owed != nil {
		return k.saveHere(k.owed)
	}
	if snap != nil {
		err = k.updateHere(snap)
	}
	if k.opt.Own == Practice && k.unsaidHere() != "" && k.usable != nil && session.AtIdle(k.usable) {
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
