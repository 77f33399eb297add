// Package garage keeps the user's memory as plain files: a card for each bike
// and each board, and a record of every synchronisation. Open gives a Garage;
// LoadBike, SaveSync and LoadBoard are what most callers want.
//
// The layout, below the garage's own folder:
//
//	bikes/NAME/bike.toml      the bike card, edited by hand as well
//	bikes/NAME/syncs/*.sync   sync records, one file each, never rewritten
//	bikes/NAME/bench/*.bench  bench sheets, one file each, never rewritten
//	bikes/NAME/bench/*.checks ticked pre-start checks, likewise
//	bikes/NAME/unfinished/    records of runs that go on, or were cut off
//	bikes/NAME/captures/      the captures that belong to the bike
//	boards/SERIAL.toml        the board card, edited by hand as well
//	last                      the name of the bike used last
//
// A damaged record, sheet or list of checks is set aside into a folder "damaged" beside
// it; nothing is deleted. Two garages become one by copying one over the other.
//
// Every file carries a format number: older ones are read for ever, newer ones
// refused with a word on why. Cards are changed by editing the few values that
// change in their text, so that comments, order and unknown keys stay. Cards
// are TOML, read with github.com/pelletier/go-toml/v2: people edit them by hand
// and make mistakes, so they need a well-kept parser that knows the line of
// everything it reads; records are JSON, which the standard library reads.
//
// Two programs may share a garage. Records never meet, as each is a new file;
// changes to a card go through a lock file beside it (see edit).
package garage

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// Names of the files and folders of a garage.
const (
	bikesFolder    = "bikes"
	boardsFolder   = "boards"
	syncsFolder    = "syncs"
	capturesFolder = "captures"
	benchFolder    = "bench"
	// unfinishedFolder holds the records of runs that go on, or were cut off.
	unfinishedFolder = "unfinished"
	bikeFile         = "bike.toml"
	lastFile         = "last"
	cardEnding       = ".toml"
	syncEnding       = ".sync"
	benchEnding      = ".bench"
	checksEnding     = ".checks"
)

// Garage is a folder of plain files. Its methods may be called from several
// goroutines.
type Garage struct {
	dir   string
	files files
	now   func() time.Time
}

// DefaultDir returns the folder that the platform's conventions give to a
// garage: XDG_DATA_HOME or ~/.local/share on Linux and its like, ~/Library/Application
// Support on macOS, %LOCALAPPDATA% on Windows, and evendraw below it. The
// error says that the environment names no home.
func DefaultDir() (string, error) {
	return defaultDir(runtime.GOOS, os.Getenv, os.UserHomeDir)
}

func defaultDir(system string, env func(string) string, homeDir func() (string, error)) (string, error) {
	name := "XDG_DATA_HOME"
	below := []string{".local", "share"}
	switch system {
	case "windows":
		name, below = "LOCALAPPDATA", []string{"AppData", "Local"}
	case "darwin":
		name, below = "", []string{"Library", "Application Support"}
	}
	if name != "" {
		// A relative path in the environment is to be ignored: XDG base
		// directory specification.
		if base := env(name); filepath.IsAbs(base) {
			return filepath.Join(base, "evendraw"), nil
		}
	}
	home, err := homeDir()
	if err != nil {
		return "", &Error{Problem: "no folder for the garage: the environment names no home folder", Err: err}
	}
	return filepath.Join(append(append([]string{home}, below...), "evendraw")...), nil
}

// Open returns the garage in dir; "" is DefaultDir. Nothing is created before
// something is saved, and a folder that is absent or can't be written is no
// error before then. Temporary files and locks that a killed program left
// are swept once they are older than a minute.
func Open(dir string) (*Garage, error) {
	if dir == "" {
		var err error
		if dir, err = DefaultDir(); err != nil {
			return nil, err
		}
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, &Error{Path: dir, Problem: "is no folder", Err: err}
	}
	return open(abs, time.Now), nil
}

func open(dir string, now func() time.Time) *Garage {
	g := &Garage{dir: dir, files: osFiles{}, now: now}
	g.sweep()
	return g
}

// Paths are the places of a garage's files.
type Paths struct{ Dir, Bikes, Boards, Last string }

// Paths returns where everything is; nothing of it need exist yet.
func (g *Garage) Paths() Paths {
	return Paths{g.dir, filepath.Join(g.dir, bikesFolder), filepath.Join(g.dir, boardsFolder), filepath.Join(g.dir, lastFile)}
}

// BikePaths are the places of one bike's files.
type BikePaths struct{ Dir, Card, Syncs, Captures, Bench, Unfinished string }

func (g *Garage) bikePaths(folder string) BikePaths {
	dir := filepath.Join(g.dir, bikesFolder, folder)
	return BikePaths{dir, filepath.Join(dir, bikeFile), filepath.Join(dir, syncsFolder), filepath.Join(dir, capturesFolder),
		filepath.Join(dir, benchFolder), filepath.Join(dir, unfinishedFolder)}
}

// MakeCaptures makes the folder of the bike's captures, if need be, and returns
// its path.
func (g *Garage) MakeCaptures(bike string) (string, error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return "", err
	}
	if err := makeDirs(g.files, p.Captures); err != nil {
		return "", &Error{Path: p.Captures, Problem: "can't be made", Err: err}
	}
	return p.Captures, nil
}

// sweepAge is how old a temporary file or a lock must be to count as left
// behind. Chosen: a save takes milliseconds, on a failing disk seconds.
const sweepAge = time.Minute

// sweep removes what killed programs left. It fails silently: whatever it
// can't remove does no harm.
func (g *Garage) sweep() {
	p := g.Paths()
	g.sweepDir(p.Dir)
	g.sweepDir(p.Boards)
	folders, _ := g.bikeFolders()
	for _, folder := range folders {
		b := g.bikePaths(folder)
		for _, dir := range []string{b.Dir, b.Syncs, b.Bench, b.Unfinished} {
			g.sweepDir(dir)
		}
	}
}

func (g *Garage) sweepDir(dir string) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if !e.Type().IsRegular() || !isTemp(e.Name()) {
			continue
		}
		info, err := e.Info()
		if err != nil {
			continue
		}
		// The absolute value: after the clock was set back, what is left may
		// lie in the future.
		if age := g.now().Sub(info.ModTime()).Abs(); age > sweepAge {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

// bikeFolders returns the folders below bikes, sorted by name.
func (g *Garage) bikeFolders() (folders []string, err error) {
	entries, err := os.ReadDir(g.Paths().Bikes)
	for _, e := range entries {
		// Stat, not the entry's type, so that a link to a folder counts.
		if info, err := os.Stat(filepath.Join(g.Paths().Bikes, e.Name())); err == nil && info.IsDir() {
			folders = append(folders, e.Name())
		}
	}
	return folders, ifNot(fs.ErrNotExist, err)
}

// filesIn returns the paths of the files in a folder with that ending, sorted
// by name; none if there is no folder. Hidden ones don't count.
func filesIn(dir, ending string) (paths []string, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		if name := e.Name(); strings.HasSuffix(name, ending) && !strings.HasPrefix(name, ".") {
			paths = append(paths, filepath.Join(dir, name))
		}
	}
	return paths, ifNot(fs.ErrNotExist, err)
}
