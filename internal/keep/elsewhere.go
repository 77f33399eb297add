package keep

import (
	"cmp"
	"encoding/json"

	"evendraw/internal/garage"
	"evendraw/internal/session"
)

// A record that the garage can't take, because the disk is full or gone, is kept in memory, and in another folder
// once there is one.

// garage is where records go.
func (k *Keeper) garage() *garage.Garage {
	if k.elsewhere != nil {
		return k.elsewhere
	}
	return k.set.Garage
}

// Room returns why a record would not be kept, nil if it would.
func (k *Keeper) Room() error {
	k.mu.Lock()
	g, w := k.garage(), k.set.World
	k.mu.Unlock()
	return w.CanSave(g)
}

// Retry saves what could not be saved, and returns its path; "" when nothing is owed.
func (k *Keeper) Retry() (string, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.owed == nil {
		return "", nil
	}
	return k.saveHere(k.owed)
}

// MoveTo has records kept in the garage in another folder, and puts there what could not be kept so far; path is the
// record's, "" when none was owed. On an error all stays as it was.
func (k *Keeper) MoveTo(dir string) (path string, err error) {
	g, err := garage.Open(dir)
	if err != nil {
		return "", err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	where, left := k.elsewhere, k.unfinished
	k.elsewhere = g
	if k.last == nil {
		left = nil // nothing of this run is in it yet
	}
	if left != nil {
		k.unfinished = left.In(g)
		if _, err = k.bikeFor(k.last); err == nil && k.owed == nil {
			err = k.updateHere(k.last)
		}
	}
	if err == nil && k.owed != nil {
		path, err = k.saveHere(k.owed)
	}
	if err == nil && k.owed == nil && left == nil {
		err = k.set.World.CanSave(g)
	}
	if err != nil {
		k.elsewhere, k.unfinished = where, cmp.Or(left, k.unfinished)
		return path, err
	}
	if left != nil {
		left.Discard() // its turns stand in the new folder; if it can't go, it is told as unfinished
	}
	return path, nil
}

// Unsaid names the remark, else what was found, the look at the raised speed, or what was trimmed, that no record
// holds; "" where there is none.
func (k *Keeper) Unsaid() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.unsaidHere()
}

func (k *Keeper) unsaidHere() string {
	switch found := k.findings(); {
	case k.opt.Own == None:
	case k.note != k.noted && k.note != "":
		return "your remark: " + k.note
	case k.card != "" && found != k.told: // since the last record
		return "what was found: " + found
	case k.last != nil && lookedRaised(k.last) && !k.raised:
		return "the look at the raised speed"
	case k.trimmed():
		return "the pilot screws that were trimmed"
	}
	return ""
}

// Owes reports whether a record could not be saved yet.
func (k *Keeper) Owes() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.owed != nil
}

// InPrint is the record that is owed, as JSON; "" when none is.
func (k *Keeper) InPrint(snap *session.Snapshot) string {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.owed != nil {
		snap = k.owed
	}
	if snap == nil || !session.Usable(snap.Reading) {
		return ""
	}
	text, _ := json.Marshal(k.record(snap)) // of numbers and text
	return string(text)
}
