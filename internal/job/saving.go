package job

import (
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/keep"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/sheet"
	"evendraw/internal/view"
)

// What is done every so often while a run goes on.
const (
	// keepEvery is how often what a crash is to leave behind is written. Chosen: a turn takes longer.
	keepEvery = 5 * time.Second
	// keepHeatEvery is how often the budget of idling is written. Chosen: what a crash loses of it is less than a
	// reaction.
	keepHeatEvery = 2 * time.Second
	// roomEvery is how often the room is looked at. Chosen: a disk is rarely filled in less by something else.
	roomEvery = 30 * time.Second
)

// upkeep is when each of these is due next.
type upkeep struct{ keep, heat, room time.Time }

// due reports whether something is due, and sets when it is next.
func due(next *time.Time, now time.Time, every time.Duration) bool {
	if now.Before(*next) {
		return false
	}
	*next = now.Add(every)
	return true
}

// keepUp writes, now and then, what a crash is to leave behind, and the budget of idling; and looks whether records can
// be kept.
func (l *live) keepUp(now time.Time) {
	if l.sess.Snapshot().Reading != nil && due(&l.next.keep, now, keepEvery) {
		l.inBackground(func() view.Event {
			if err := l.keeper.Update(l.sess.Snapshot()); err != nil {
				return l.noRoom(err)
			}
			return nil
		})
	}
	l.keepHeat(now)
	if l.src.own() != keep.None && due(&l.next.room, now, roomEvery) {
		l.inBackground(l.lookAtRoom)
	}
}

// keepHeat writes the budget of idling now and then.
func (l *live) keepHeat(now time.Time) {
	if due(&l.next.heat, now, keepHeatEvery) {
		l.writing.Go(l.saveHeat)
	}
}

// save saves a record and says so on standard error.
func (l *live) save() error {
	path, err := l.keeper.Save(l.sess.Snapshot())
	if path != "" {
		l.tellSaved(path)
	}
	return err
}

// tellSaved says on standard error where records are, and how they are seen where history alone would not show them.
func (l *live) tellSaved(paths ...string) {
	for _, path := range paths {
		fmt.Fprintln(l.std.Err, "saved "+path)
	}
	if see := l.keeper.See(); len(paths) > 0 && see != keep.HistoryVerb {
		fmt.Fprintln(l.std.Err, "to see it:\n  "+see)
	}
}

// saved saves a record and returns the words on it; without a screen it says them on standard error.
func (l *live) saved() view.Event {
	if !l.onScreen {
		if err := l.save(); err != nil {
			hint.Report(l.std.Err, err)
		}
		return nil
	}
	path, err := l.keeper.Save(l.sess.Snapshot())
	switch {
	case errors.Is(err, keep.ErrNothing), errors.Is(err, keep.ErrReplay):
		return view.Told{Text: "Not saved: " + err.Error(), Role: view.Bad}
	case err != nil && path == "":
		return l.noRoom(err)
	case err != nil:
		return view.Told{Text: err.Error(), Role: view.Warn}
	}
	return l.savedAs(path)
}

// savedAs notes a record that was saved.
func (l *live) savedAs(path string) view.Event {
	l.mu.Lock()
	l.saves = append(l.saves, path)
	l.mu.Unlock()
	if !l.onScreen {
		l.tellSaved(path)
	}
	return view.SavedRecord{What: l.keeper.What(), See: l.keeper.See()}
}

// keepLast keeps what was not saved when the run ends: in the garage, else in a folder beside, else in print.
func (l *live) keepLast() error {
	var snap *session.Snapshot
	if l.sess != nil {
		snap = l.sess.Snapshot()
	}
	owed := l.keeper.Owes()
	path, err := l.keeper.End(snap)
	if err == nil {
		switch note := l.keeper.Unsaid(); {
		case path != "" && (owed || l.practice() != nil):
			l.tellSaved(path)
		case path != "":
			fmt.Fprintln(l.std.Err, "not finished, kept as "+path)
		case note != "":
			l.std.Warn("no idle was read, so there is no record for " + note)
		case l.practice() != nil && l.onScreen && len(l.saves) == 0:
			l.std.Warn("left before the bank was level: nothing is saved; a practice engine is a new one at each " +
				"start, and begins at the first step")
		}
		return nil
	}
	for _, dir := range l.set.World.SpareFolders() {
		path, e := l.keeper.MoveTo(dir)
		if last, endErr := l.keeper.End(snap); last != "" {
			path, e = last, endErr
		}
		if e == nil && path != "" {
			return settings.Elsewhere("record", path, dir, l.set.Garage, err)
		}
	}
	if text := l.keeper.InPrint(snap); text != "" {
		fmt.Fprintf(l.std.Err, "the record that could be kept nowhere:\n%s\n", text)
	}
	return err
}

// lookAtRoom keeps what could not be kept, else looks whether records can be.
func (l *live) lookAtRoom() view.Event {
	path, err := l.keeper.Retry()
	if path != "" && err == nil {
		return l.savedAs(path)
	}
	if err == nil {
		err = l.keeper.Room()
	}
	return l.noRoom(err)
}

// noRoom tells why records can't be kept, and which other folder could take them; that they can, when err is nil.
func (l *live) noRoom(err error) view.Event {
	if err == nil {
		return view.NoRoom{}
	}
	e := view.NoRoom{Why: hint.Short(err)}
	if dirs := l.set.World.SpareFolders(); len(dirs) > 0 {
		e.Offer = dirs[0]
	}
	return e
}

// useFolder has records kept in another folder from now on.
func (l *live) useFolder(dir string) view.Event {
	path, err := l.keeper.MoveTo(dir)
	switch {
	case err != nil:
		return l.noRoom(fmt.Errorf("not in %s either: %w", dir, err))
	case path != "":
		return l.savedAs(path)
	}
	l.tell(view.NoRoom{})
	return view.Told{Text: "Records go to " + dir + " from now on.", Role: view.Good}
}

// pagePrinted writes the A4 page of the record saved last into the bike's folder, and returns the words on it.
func (l *live) pagePrinted() view.Event {
	l.mu.Lock()
	saves := l.saves
	l.mu.Unlock()
	if len(saves) == 0 {
		return view.Told{Text: "Save first: the page is of a record.", Role: view.Warn}
	}
	path := saves[len(saves)-1]
	record, err := garage.LoadSync(path)
	if err != nil {
		return view.Told{Text: "No page: " + err.Error(), Role: view.Bad}
	}
	to := sheet.FreeFile(filepath.Dir(filepath.Dir(path)), &record)
	page := sheet.Of(l.set.Garage, &garage.StoredSync{Path: path, Kept: record}, l.set.Unit())
	if err := settings.WriteFile(to, false, page.HTML); err != nil {
		return view.Told{Text: "No page: " + err.Error(), Role: view.Bad}
	}
	return view.Told{Text: "Page for any browser: " + to, Role: view.Good}
}
