package garage

import (
	"cmp"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// Unfinished is the record of a run that goes on: a file that is written anew as the run does, so that a crash or a
// closed terminal leaves it behind. It ends as a levelling record with Finish or Keep, or is gone with Discard. Its
// methods may be called from several goroutines; each writes to the disk and so belongs off the path of the frames.
type Unfinished struct {
	g    *Garage
	bike string
	// Earlier is the run that is gone on with, nil for a new one.
	Earlier *SyncRecord

	mu   sync.Mutex
	path string // "" until there is a file
}

// unfinishedFile is what stands in the file of an unfinished record.
type unfinishedFile struct {
	SyncRecord
	// Host and Process tell whether the program that writes it still runs.
	Host    string `json:"host"`
	Process int    `json:"process"`

	path string // "" while it is only a text
}

func (f *unfinishedFile) clean() {
	f.SyncRecord.clean()
	f.Host = plain.Lines(f.Host)
}

// heldFor is how long an unfinished record counts as in use after it was last written, if its program runs, or may run
// on another laptop. Chosen: a run writes its record every few seconds while the engine turns.
const heldFor = 10 * time.Minute

// OpenUnfinished begins the record of a run. Nothing is written before the first Update.
func (g *Garage) OpenUnfinished(bike string) (*Unfinished, error) {
	if _, err := g.BikePaths(bike); err != nil {
		return nil, err
	}
	return &Unfinished{g: g, bike: bike}, nil
}

// In returns the record of the same run to be kept in another garage, where nothing of it is written yet.
func (u *Unfinished) In(g *Garage) *Unfinished {
	u.mu.Lock()
	defer u.mu.Unlock()
	return &Unfinished{g: g, bike: u.bike, Earlier: u.Earlier}
}

// Update writes what is to be kept if the run is cut off here. Of a run that is gone on with, the
// earlier part is put before it. On an error what was written before is still there.
func (u *Unfinished) Update(rec *SyncRecord) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.look()
	return u.write(rec)
}

func (u *Unfinished) write(rec *SyncRecord) error {
	p, err := u.g.BikePaths(u.bike)
	if err != nil {
		return err
	}
	merged := u.merged(rec)
	merged.Verdict = VerdictUnfinished
	f := owned(u.g.prepareSync(p, u.bike, &merged))
	if u.path == "" {
		number := u.g.unfinishedNumbers().next()
		u.path, err = u.g.saveSealed(p.Unfinished, recordEnding, f.Time, number, &f, f.unknown)
		return err
	}
	text, err := sealedText(&f, f.unknown)
	if err != nil {
		return store.NotSaved(u.path, err)
	}
	return u.g.disk.Replace(u.path, text)
}

// owned is a record with this program as its owner.
func owned(r SyncRecord) unfinishedFile {
	return unfinishedFile{SyncRecord: r, Host: hostName(), Process: os.Getpid()}
}

func hostName() string {
	host, _ := os.Hostname() // "" is as good as any
	return plain.Lines(host)
}

// ErrHeld is the cause of the Error of a run that another program goes on with.
var ErrHeld = errors.New("another program goes on with it")

// isMine reports whether the text of an unfinished record is of this program.
func isMine(text []byte) bool {
	var f unfinishedFile
	if text == nil {
		return false
	}
	_, err := parseSealed(text, &f)
	return err == nil && f.Host == hostName() && f.Process == os.Getpid()
}

// Hold keeps the record this program's while nothing is written.
func (u *Unfinished) Hold() {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.path != "" {
		now := u.g.now()
		os.Chtimes(u.path, now, now) // if it fails, the next Update sees whose the record is
	}
}

// merged returns a record with the earlier part of the run before it.
func (u *Unfinished) merged(rec *SyncRecord) SyncRecord {
	r := *rec
	e := u.Earlier
	if e == nil {
		return r
	}
	r.unknown = e.unknown
	r.Before, r.Begun = cmp.Or(e.Before, r.Before), cmp.Or(e.Begun, r.Begun)
	r.After, r.Raised = cmp.Or(r.After, e.After), cmp.Or(r.Raised, e.Raised)
	r.Note, r.Temperature = cmp.Or(r.Note, e.Note), cmp.Or(r.Temperature, e.Temperature)
	if r.PilotTurnsOut == nil {
		r.PilotTurnsOut = e.PilotTurnsOut
	}
	if r.Pilots == nil {
		r.Pilots = e.Pilots
	}
	r.Steps = append(slices.Clone(e.Steps), r.Steps...)
	r.IdlingSeconds += e.IdlingSeconds
	return r
}

// Finish saves the record of the whole run with the verdict that rec has, takes the unfinished one
// away and returns the record's path. When saving fails, the unfinished one stays.
func (u *Unfinished) Finish(rec *SyncRecord) (path string, err error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.look()
	r := u.merged(rec)
	path, err = u.g.SaveSync(u.bike, &r)
	if path == "" || err != nil {
		return path, err
	}
	return path, u.drop()
}

// Keep saves what was last written as a record with the verdict unfinished, and returns its path.
func (u *Unfinished) Keep() (path string, err error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.look(); u.path == "" {
		return "", &Error{Problem: "nothing of the run was written yet, or another program goes on with it"}
	}
	r, err := loadUnfinished(u.path)
	if err != nil {
		return "", err
	}
	if path, err = u.g.SaveSync(u.bike, &r); path == "" || err != nil {
		return path, err
	}
	return path, u.drop()
}

// Discard takes the unfinished record away.
func (u *Unfinished) Discard() error {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.look()
	return u.drop()
}

// look forgets a record that is no longer this program's: after a stop of hours another has gone on with it,
// or it was kept or discarded. This run goes on alone.
func (u *Unfinished) look() {
	if u.path == "" {
		return
	}
	if text, err := store.ReadIfThere(u.path); err == nil && !isMine(text) {
		u.path, u.Earlier = "", nil
	}
}

func (u *Unfinished) drop() error {
	if u.path == "" {
		return nil
	}
	err := u.g.disk.Remove(u.path)
	if err == nil {
		u.path = ""
	}
	return err
}

// unfinishedNumbers are those of the unfinished records of all bikes.
func (g *Garage) unfinishedNumbers() numbers {
	bikes, _ := g.allPaths() // who lists the files tells of an error
	var folders []string
	for _, p := range bikes {
		folders = append(folders, p.Unfinished)
	}
	return numbersIn(recordEndings, folders...)
}

// ListUnfinished returns the unfinished records of all bikes whose program no longer
// runs, the newest last, numbered among those of all bikes, and apart the errors of those that can't be read.
func (g *Garage) ListUnfinished() (left []StoredSync, damaged []*Error) {
	bikes, err := g.allPaths()
	if err != nil {
		return nil, []*Error{store.AsError(g.Paths().Bikes, err)}
	}
	all := g.unfinishedNumbers()
	for _, p := range bikes {
		files, wrong := store.List(p.Unfinished, recordEndings, func(path string) (unfinishedFile, error) {
			f := unfinishedFile{path: path}
			_, err := loadSealed(path, &f)
			return f, err
		})
		damaged = append(damaged, wrong...)
		for _, f := range files {
			if !g.isHeld(f.path, &f) {
				left = append(left, StoredSync{Path: f.path, Kept: f.SyncRecord, Number: all.of(f.path)})
			}
		}
	}
	slices.SortStableFunc(left, func(a, b StoredSync) int { return a.Kept.Time.Compare(b.Kept.Time) })
	return left, damaged
}

// isHeld reports whether the program that wrote an unfinished record still goes on with it.
func (g *Garage) isHeld(path string, f *unfinishedFile) bool {
	info, err := os.Stat(path)
	if err != nil || g.now().Sub(info.ModTime()).Abs() > heldFor {
		return false
	}
	return hostName() != f.Host || f.Process != os.Getpid() && store.Running(f.Process)
}

// loadUnfinished reads the record in an unfinished file, without what is only about the program that wrote it.
func loadUnfinished(path string) (SyncRecord, error) {
	r, err := LoadForChange(path)
	r.unknown = slices.DeleteFunc(r.unknown, func(k unknownKey) bool { return k.key == "host" || k.key == "process" })
	return r, err
}

// Resume goes on with an unfinished record: to Finish it with what comes now, or to Keep or Discard it as it is. It is
// this program's from now on; of several that try, one gets it, and the others an Error of cause ErrHeld.
func (g *Garage) Resume(path string) (*Unfinished, error) {
	r, err := loadUnfinished(path)
	if err != nil {
		return nil, err
	}
	err = g.disk.Edit(path, func(old []byte) ([]byte, error) {
		var f unfinishedFile
		if _, err := parseSealed(old, &f); err != nil {
			return nil, store.AsError(path, err)
		}
		if g.isHeld(path, &f) {
			return nil, &Error{Path: path, Problem: "can't be gone on with", Err: ErrHeld}
		}
		mine := owned(r)
		return sealedText(&mine, r.unknown)
	})
	if err != nil {
		return nil, err
	}
	bike := r.Bike
	if b, err := readBike(filepath.Join(filepath.Dir(filepath.Dir(path)), bikeFile)); err == nil {
		bike = b.Name
	}
	return &Unfinished{g: g, bike: bike, Earlier: &r, path: path}, nil
}
