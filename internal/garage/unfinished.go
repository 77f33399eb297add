package garage

import (
	"errors"
	"evendraw/internal/plain"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// Unfinished is the record of a run that goes on: a file that is written anew as
// the run does, so that a crash or a closed terminal leaves it behind. It ends as
// a sync record with Finish or Keep, or is gone with Discard. Its methods may be
// called from several goroutines; each writes to the disk and so belongs off the
// path of the frames.
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
}

func (f *unfinishedFile) clean() {
	f.SyncRecord.clean()
	f.Host = plain.Lines(f.Host)
}

// heldFor is how long an unfinished record counts as in use after it was last
// written, if its program runs, or may run on another laptop. Chosen: a run
// writes its record every few seconds while the engine turns.
const heldFor = 10 * time.Minute

// OpenUnfinished begins the record of a run. Nothing is written before the first
// Update.
func (g *Garage) OpenUnfinished(bike string) (*Unfinished, error) {
	if _, err := g.BikePaths(bike); err != nil {
		return nil, err
	}
	return &Unfinished{g: g, bike: bike}, nil
}

// Update writes what is to be kept if the run is cut off here. Of a run that is gone on
// with, the earlier part is put before it. On an error what was written
// before is still there.
func (u *Unfinished) Update(rec *SyncRecord) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	host, _ := os.Hostname() // "" is as good as any
	r := u.whole(rec)
	r.Verdict = VerdictUnfinished
	p, r, _, err := u.g.prepareSync(u.bike, &r)
	if err != nil {
		return err
	}
	text, err := sealedText(&unfinishedFile{r, plain.Lines(host), os.Getpid()}, r.unknown)
	if err != nil {
		return notSaved(p.Unfinished, err)
	}
	if u.path == "" {
		u.path, err = u.g.saveSealed(p.Unfinished, syncEnding, r.Time, text)
		return err
	}
	if err := makeDirs(u.g.files, p.Unfinished); err != nil {
		return notSaved(u.path, err)
	}
	if err := replace(u.g.files, u.path, text, func() error { return nil }); err != nil {
		return notSaved(u.path, err)
	}
	return nil
}

// whole returns a record with the earlier part of the run before it.
func (u *Unfinished) whole(rec *SyncRecord) SyncRecord {
	r := *rec
	e := u.Earlier
	if e == nil {
		return r
	}
	r.unknown = e.unknown
	if e.Before != nil {
		r.Before = e.Before
	}
	if r.After == nil {
		r.After = e.After
	}
	if r.Raised == nil {
		r.Raised = e.Raised
	}
	if !e.Begun.IsZero() {
		r.Begun = e.Begun
	}
	if r.PilotTurnsOut == nil {
		r.PilotTurnsOut = e.PilotTurnsOut
	}
	for _, was := range []struct{ now, earlier *string }{{&r.Note, &e.Note}, {&r.Temperature, &e.Temperature}} {
		if *was.now == "" {
			*was.now = *was.earlier
		}
	}
	r.Steps = append(slices.Clone(e.Steps), r.Steps...)
	r.IdlingSeconds += e.IdlingSeconds
	return r
}

// Finish saves the record of the whole run with the verdict that rec has, takes the
// unfinished one away and returns the record's path. When saving fails, the
// unfinished one stays.
func (u *Unfinished) Finish(rec *SyncRecord) (path string, err error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	r := u.whole(rec)
	path, err = u.g.SaveSync(u.bike, &r)
	if path == "" || err != nil {
		return path, err
	}
	return path, u.drop()
}

// Keep saves what was last written as a record with the verdict unfinished, and
// returns its path.
func (u *Unfinished) Keep() (path string, err error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.path == "" {
		return "", &Error{Problem: "nothing of the run was written yet"}
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
	return u.drop()
}

func (u *Unfinished) drop() error {
	if u.path == "" {
		return nil
	}
	err := ifNot(fs.ErrNotExist, u.g.files.remove(u.path))
	if err == nil {
		err = u.g.files.syncDir(filepath.Dir(u.path))
	}
	if err != nil {
		return &Error{Path: u.path, Problem: "can't be taken away", Err: err}
	}
	u.path = ""
	return nil
}

// LeftRecord is an unfinished record that a run left behind.
type LeftRecord struct {
	Path   string
	Record SyncRecord
}

// ListUnfinished returns the unfinished records of all bikes whose program no longer
// runs, the newest last, and apart the errors of those that can't be read.
func (g *Garage) ListUnfinished() (left []LeftRecord, damaged []*Error) {
	folders, err := g.bikeFolders()
	if err != nil {
		return nil, []*Error{asError(g.Paths().Bikes, err)}
	}
	for _, folder := range folders {
		paths, err := filesIn(g.bikePaths(folder).Unfinished, syncEnding)
		if err != nil {
			damaged = append(damaged, asError(g.bikePaths(folder).Unfinished, err))
		}
		for _, path := range paths {
			var f unfinishedFile
			switch _, err := loadSealed(path, syncFormat, &f); {
			case errors.Is(err, fs.ErrNotExist): // ended meanwhile
			case err != nil:
				damaged = append(damaged, asError(path, err))
			case !g.isHeld(path, &f):
				left = append(left, LeftRecord{path, f.SyncRecord})
			}
		}
	}
	slices.SortStableFunc(left, func(a, b LeftRecord) int { return a.Record.Time.Compare(b.Record.Time) })
	return left, damaged
}

// isHeld reports whether the program that wrote an unfinished record still goes on
// with it.
func (g *Garage) isHeld(path string, f *unfinishedFile) bool {
	info, err := os.Stat(path)
	if err != nil || g.now().Sub(info.ModTime()).Abs() > heldFor {
		return false
	}
	host, _ := os.Hostname()
	return plain.Lines(host) != f.Host || f.Process != os.Getpid() && runs(f.Process)
}

// loadUnfinished reads the record in an unfinished file, without what is only about the
// program that wrote it.
func loadUnfinished(path string) (SyncRecord, error) {
	r, err := LoadForChange(path)
	r.unknown = slices.DeleteFunc(r.unknown, func(k unknownKey) bool { return k.key == "host" || k.key == "process" })
	return r, err
}

// Resume goes on with an unfinished record: to Finish it with what comes now, or to
// Keep or Discard it as it is. The run's next Update writes it in this program's name.
func (g *Garage) Resume(path string) (*Unfinished, error) {
	r, err := loadUnfinished(path)
	if err != nil {
		return nil, err
	}
	bike := r.Bike
	if b, err := readBike(filepath.Join(filepath.Dir(filepath.Dir(path)), bikeFile)); err == nil {
		bike = b.Name
	}
	return &Unfinished{g: g, bike: bike, Earlier: &r, path: path}, nil
}
