package job

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// A record that the garage can't take, because the disk is full or gone, is kept in memory, and in another folder
// once there is one. That folder is a garage too: copied over the first, the two are one.

// roomEvery is how often the room is looked at. Chosen: a disk is rarely filled in less by something else.
const roomEvery = 30 * time.Second

// spareName is the folder that is offered below a spare place.
const spareName = "evendraw-records"

// roomIn returns why a run's records would not fit in a folder that is there, nil if they do.
func (w *World) roomIn(dir string) error {
	if w.Room != nil {
		return w.Room(dir)
	}
	return garage.Room(dir)
}

// spareFolders are those in which there is room for records: below the home folder, the one at hand, and the
// system's for what may be lost at the next start.
func (w *World) spareFolders() (dirs []string) {
	places := w.Spare
	if places == nil {
		home, _ := os.UserHomeDir()
		here, _ := os.Getwd()
		places = []string{home, here, os.TempDir()}
	}
	for _, place := range places {
		if place != "" && w.roomIn(place) == nil {
			dirs = append(dirs, filepath.Join(place, spareName))
		}
	}
	return dirs
}

// canSave returns why nothing could be saved in a garage, nil if it can. It leaves no trace.
func (w *World) canSave(g *garage.Garage) error {
	dir, err := folderAt(g.Paths().Dir)
	if err != nil {
		return fmt.Errorf("nothing can be saved: %w", err)
	}
	err = w.roomIn(dir)
	if path := (*fs.PathError)(nil); errors.As(err, &path) {
		err = path.Err // of a file whose name means nothing
	}
	if err != nil {
		return fmt.Errorf("nothing can be saved in %s: %v", dir, err)
	}
	return nil
}

// folderAt is garage.FolderAt, with what can be done about an error.
func folderAt(dir string) (string, error) {
	dir, err := garage.FolderAt(dir)
	if err != nil {
		err = &Hinted{err, "name a folder with --garage DIR or EVENDRAW_GARAGE"}
	}
	return dir, err
}

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
	return w.canSave(g)
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
		err = k.set.World.canSave(g)
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

// elsewhere says that something is kept in another folder than the garage, and why.
func elsewhere(what, path, dir string, g *garage.Garage, why error) error {
	return &Hinted{fmt.Errorf("the %s did not go into the garage: %w", what, why),
		fmt.Sprintf("kept as %s; once it can be written there, copy %s over %s", path, dir, g.Paths().Dir)}
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
	for _, dir := range l.set.World.spareFolders() {
		path, e := l.keeper.moveTo(dir)
		if last, endErr := l.keeper.end(snap); last != "" {
			path, e = last, endErr
		}
		if e == nil && path != "" {
			return elsewhere("record", path, dir, l.set.Garage, err)
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

// lookAtRoom looks now and then whether records can be kept, and keeps what could not be.
func (l *live) lookAtRoom(now time.Time) {
	if now.Before(l.nextRoom) || l.src.own() == recordNone {
		return
	}
	l.nextRoom = now.Add(roomEvery)
	l.inBackground(func() view.Event {
		path, err := l.keeper.retry()
		if path != "" && err == nil {
			return l.savedAs(path)
		}
		if err == nil {
			err = l.keeper.room()
		}
		return l.noRoom(err)
	})
}

// noRoom tells why records can't be kept, and which other folder could take them; that they can, when err is nil.
func (l *live) noRoom(err error) view.Event {
	if err == nil {
		return view.NoRoom{}
	}
	e := view.NoRoom{Why: err.Error()}
	if dirs := l.set.World.spareFolders(); len(dirs) > 0 {
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

// SaveBench saves a bench card of the bike; see keepIn.
func (s *Settings) SaveBench(card *garage.BenchCard) (path string, err error) {
	if err := card.Check(); err != nil {
		return "", err
	}
	return s.keepIn("bench card", func(g *garage.Garage) (string, error) { return g.SaveBench(s.Bike.Name, card) })
}

// SaveChecks saves what was answered of the pre-start checks; see keepIn.
func (s *Settings) SaveChecks(ticks []garage.Tick) (path string, err error) {
	return s.keepIn("answers", func(g *garage.Garage) (string, error) {
		return g.SaveChecks(s.Bike.Name, s.Version, ticks)
	})
}

// keepIn saves something of the bike in the garage, or in one in another folder where its own can't take it: the
// error then says so beside the path.
func (s *Settings) keepIn(what string, save func(*garage.Garage) (string, error)) (path string, err error) {
	if path, err = save(s.Garage); path != "" {
		return path, err
	}
	for _, dir := range s.World.spareFolders() {
		g, e := garage.Open(dir)
		if e == nil {
			e = g.NewBike(s.Bike)
		}
		if e != nil && !errors.Is(e, fs.ErrExist) {
			continue
		}
		if path, _ = save(g); path != "" {
			return path, elsewhere(what, path, dir, s.Garage, err)
		}
	}
	return "", err
}
