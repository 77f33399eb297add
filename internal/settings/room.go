package settings

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
)

// What can't be kept in the garage, because the disk is full or gone, goes into another folder that has room. That
// folder is a garage too: copied over the first, the two are one.

// spareName is the folder that is offered below a spare place.
const spareName = "evendraw-records"

// roomBytes is what must fit on the disk for the records of a run. Chosen: thirty of some 8 kB (measured).
const roomBytes = 256 << 10

// roomIn returns why a run's records would not fit in a folder that is there, nil if they do. It leaves no trace.
func (w *World) roomIn(dir string) error {
	if w.Room != nil {
		return w.Room(dir)
	}
	f, err := os.CreateTemp(dir, ".evendraw-*")
	if err != nil {
		return err
	}
	_, err = f.Write(make([]byte, roomBytes))
	if err = errors.Join(err, f.Sync(), f.Close(), os.Remove(f.Name())); hint.IsFull(err) {
		return fmt.Errorf("less than %d kB of the disk is free", roomBytes>>10)
	}
	return err
}

// SpareFolders are those in which there is room for records: below the home folder, the one at hand, and the
// system's for what may be lost at the next start.
func (w *World) SpareFolders() (dirs []string) {
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

// CanSave returns why nothing could be saved in a garage, nil if it can. It leaves no trace.
func (w *World) CanSave(g *garage.Garage) error {
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

// nameFolder is what can be done where no garage can be.
const nameFolder = "name a folder with --garage DIR or EVENDRAW_GARAGE"

// folderAt returns a garage's folder, or what is there of the path to it; the error says that a file is in its place.
func folderAt(dir string) (string, error) {
	for {
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			return "", hint.With(fmt.Errorf("%s is a file, not a folder: no garage can be there", dir), nameFolder)
		}
		above := filepath.Dir(dir)
		if err == nil || above == dir {
			return dir, nil
		}
		dir = above
	}
}

// Elsewhere says that something is kept in another folder than the garage, and why.
func Elsewhere(what, path, dir string, g *garage.Garage, why error) error {
	when := "once it can be written there"
	if strings.HasPrefix(dir, os.TempDir()) {
		when = "before the computer is switched off, which may empty that folder"
	}
	return hint.With(fmt.Errorf("the %s did not go into the garage: %w", what, why),
		fmt.Sprintf("kept as %s; %s, copy %s over %s", path, when, dir, g.Paths().Dir))
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
	for _, dir := range s.World.SpareFolders() {
		g, e := garage.Open(dir)
		if e == nil {
			e = g.NewBike(s.Bike)
		}
		if e != nil && !errors.Is(e, fs.ErrExist) {
			continue
		}
		if path, _ = save(g); path != "" {
			return path, Elsewhere(what, path, dir, s.Garage, err)
		}
	}
	return "", err
}
