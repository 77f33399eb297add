package job

import (
	"cmp"
	"encoding/json"
	"fmt"

	"evendraw/internal/garage"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/view"
)

// A record that the garage can't take, because the disk is full or gone, is kept in memory, and in another folder
// once there is one.

// garage is where records go.
func (k *keeper) garage() *garage.Garage {
	if k.elsewhere != nil {
		return k.elsewhere
	}
	return k.set.Garage
}

// room returns why a record would not be kept, nil if it would.
func (k *keeper) room() error {
	k.mu.Lock()
	g, w := k.garage(), k.set.World
	k.mu.Unlock()
	return w.CanSave(g)
}

// retry saves what could not be saved, and returns its path; "" when nothing is owed.
func (k *keeper) retry() (string, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.owed == nil {
		return "", nil
	}
	return k.saveHere(k.owed)
}

// moveTo has records kept in the garage in another folder, and puts there what could not be kept so far; path is the
// record's, "" when none was owed. On an error all stays as it was.
func (k *keeper) moveTo(dir string) (path string, err error) {
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

// keepLast keeps what was not saved when the run ends: in the garage, else in a folder beside, else in print.
func (l *live) keepLast() error {
	var snap *session.Snapshot
	if l.sess != nil {
		snap = l.sess.Snapshot()
	}
	owed := l.keeper.owes()
	path, err := l.keeper.end(snap)
	if err == nil {
		switch note := l.keeper.unsaid(); {
		case path != "" && (owed || l.practice() != nil):
			l.tellSaved(path)
		case path != "":
			fmt.Fprintln(l.std.Err, "not finished, kept as "+path)
		case note != "":
			l.std.Warn("no idle was read, so there is no record for " + note)
		}
		return nil
	}
	for _, dir := range l.set.World.SpareFolders() {
		path, e := l.keeper.moveTo(dir)
		if last, endErr := l.keeper.end(snap); last != "" {
			path, e = last, endErr
		}
		if e == nil && path != "" {
			return settings.Elsewhere("record", path, dir, l.set.Garage, err)
		}
	}
	if text := l.keeper.inPrint(snap); text != "" {
		fmt.Fprintf(l.std.Err, "the record that could be kept nowhere:\n%s\n", text)
	}
	return err
}

// unsaid is the remark, else what was found, that no record holds, named; "" where there is none.
func (k *keeper) unsaid() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.unsaidHere()
}

func (k *keeper) unsaidHere() string {
	switch found := k.findings(); {
	case k.note != k.noted && k.note != "":
		return "your remark: " + k.note
	case k.card != "" && found != k.told: // since the last record
		return "what was found: " + found
	}
	return ""
}

// owes reports whether a record could not be saved yet.
func (k *keeper) owes() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.owed != nil
}

// inPrint is the record that is owed, as JSON; "" when none is.
func (k *keeper) inPrint(snap *session.Snapshot) string {
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

// lookAtRoom keeps what could not be kept, else looks whether records can be.
func (l *live) lookAtRoom() view.Event {
	path, err := l.keeper.retry()
	if path != "" && err == nil {
		return l.savedAs(path)
	}
	if err == nil {
		err = l.keeper.room()
	}
	return l.noRoom(err)
}

// noRoom tells why records can't be kept, and which other folder could take them; that they can, when err is nil.
func (l *live) noRoom(err error) view.Event {
	if err == nil {
		return view.NoRoom{}
	}
	e := view.NoRoom{Why: err.Error()}
	if dirs := l.set.World.SpareFolders(); len(dirs) > 0 {
		e.Offer = dirs[0]
	}
	return e
}

// useFolder has records kept in another folder from now on.
func (l *live) useFolder(dir string) view.Event {
	path, err := l.keeper.moveTo(dir)
	switch {
	case err != nil:
		return l.noRoom(fmt.Errorf("not in %s either: %w", dir, err))
	case path != "":
		return l.savedAs(path)
	}
	l.tell(view.NoRoom{})
	return view.Told{Text: "Records go to " + dir + " from now on.", Role: view.Good}
}
