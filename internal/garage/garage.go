package garage

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"evendraw/internal/store"
)

// Error says what is wrong with a file of the garage, and where.
type Error = store.Error

// problem returns an Error about a field of a file, either of which may be "".
func problem(path, field, format string, args ...any) *Error {
	return &Error{Path: path, Field: field, Problem: fmt.Sprintf(format, args...)}
}

// newestFormat is the format number of all files that this program writes. Keys came to them since, which older
// programs read past.
const newestFormat = 1

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
	recordEnding     = ".level"
	oldRecordEnding  = ".sync" // of earlier versions: read, and never written
	benchEnding      = ".bench"
	checksEnding     = ".checks"
)

// Garage is a folder of plain files. Its methods may be called from several goroutines.
type Garage struct {
	dir  string
	disk *store.Store
	now  func() time.Time
}

// defaultDir returns the folder that the platform's conventions give to a garage: XDG_DATA_HOME or
// ~/.local/share on Linux and its like, ~/Library/Application Support on macOS, %LOCALAPPDATA% on
// Windows, and evendraw below it. The error says that the environment names no home.
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
		// A relative path in the environment is to be ignored: XDG base directory specification.
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

// Open returns the garage in dir; "" is the platform's folder for it. Nothing is created before
// something is saved, and a folder that is absent or can't be written is no error before then.
// Temporary files and locks that a killed program left are swept once they are older than a minute.
func Open(dir string) (*Garage, error) {
	if dir == "" {
		var err error
		if dir, err = defaultDir(runtime.GOOS, os.Getenv, os.UserHomeDir); err != nil {
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
	g := &Garage{dir, store.New(), now}
	g.sweep()
	return g
}

// Paths are the places of a garage's files.
type Paths struct{ Dir, Bikes, Boards, Captures, Last string }

// Paths returns where everything is; nothing of it need exist yet.
func (g *Garage) Paths() Paths {
	return Paths{g.dir, filepath.Join(g.dir, bikesFolder), filepath.Join(g.dir, boardsFolder),
		filepath.Join(g.dir, capturesFolder), filepath.Join(g.dir, lastFile)}
}

// BikePaths are the places of one bike's files.
type BikePaths struct{ Dir, Card, Syncs, Captures, Bench, Unfinished string }

func (g *Garage) bikePaths(folder string) BikePaths {
	dir := filepath.Join(g.dir, bikesFolder, folder)
	return BikePaths{dir, filepath.Join(dir, bikeFile), filepath.Join(dir, syncsFolder),
		filepath.Join(dir, capturesFolder),
		filepath.Join(dir, benchFolder), filepath.Join(dir, unfinishedFolder)}
}

// MakeCaptures makes the folder of the bike's captures, if need be, and returns its path.
func (g *Garage) MakeCaptures(bike string) (string, error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return "", err
	}
	if err := g.disk.MakeDirs(p.Captures); err != nil {
		return "", &Error{Path: p.Captures, Problem: "can't be made", Err: err}
	}
	return p.Captures, nil
}

// sweep removes what killed programs left.
func (g *Garage) sweep() {
	p := g.Paths()
	dirs := []string{p.Dir, p.Boards, p.Captures}
	bikes, _ := g.allPaths()
	for _, b := range bikes {
		dirs = append(dirs, b.Dir, b.Syncs, b.Bench, b.Unfinished, b.Captures)
	}
	for _, dir := range dirs {
		store.Sweep(dir, g.now())
	}
}

// allPaths are the places of all bikes, by the names of their folders.
func (g *Garage) allPaths() (all []BikePaths, err error) {
	folders, err := store.Folders(g.Paths().Bikes)
	for _, folder := range folders {
		all = append(all, g.bikePaths(folder))
	}
	return all, err
}
