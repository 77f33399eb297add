package store

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Store writes files. Its methods may be called from several goroutines.
type Store struct {
	Files Files
}

// New returns a Store on the disks of this machine.
func New() *Store { return &Store{Disk{}} }

// tempEnding marks temporary files, which begin with a dot as well.
const tempEnding = ".evendraw-tmp"

// besidePath returns the path of a file that goes with path while it is saved.
func besidePath(path, tag, ending string) string {
	return filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+tag+ending)
}

func randomHex(bytes int) string {
	b := make([]byte, bytes)
	rand.Read(b) // never fails
	return hex.EncodeToString(b)
}

// MakeDirs makes a folder and those above it, and makes their names last.
func (s *Store) MakeDirs(dir string) error {
	return s.inFolder(dir, func() error { return nil })
}

// inFolder does something in a folder, which it makes if need be, with those above it. Where that fails it takes away
// again what it has made, unless something is in it by then.
func (s *Store) inFolder(dir string, do func() error) error {
	made, err := s.makeDirs(dir)
	if err == nil {
		err = do()
	}
	if err != nil && !errors.Is(err, ErrUnsynced) {
		for _, d := range slices.Backward(made) {
			s.Files.Remove(d)
		}
	}
	return err
}

// makeDirs makes a folder and those above it, and returns which it has made, the uppermost first.
func (s *Store) makeDirs(dir string) (made []string, err error) {
	if info, err := os.Stat(dir); err == nil {
		if !info.IsDir() {
			return nil, &fs.PathError{Op: "mkdir", Path: dir, Err: syscall.ENOTDIR}
		}
		return nil, nil
	}
	above := filepath.Dir(dir)
	if above != dir {
		if made, err = s.makeDirs(above); err != nil {
			return made, err
		}
	}
	if err := s.Files.Mkdir(dir); err != nil {
		return made, ignore(fs.ErrExist, err)
	}
	return append(made, dir), s.Files.SyncDir(above)
}

// Replace puts data in the place of the file at path, whether there is one or not, and makes its
// folder if need be. On an Error the file is as it was, but for ErrUnsynced.
func (s *Store) Replace(path string, data []byte) error {
	return NotSaved(path, s.inFolder(filepath.Dir(path), func() error {
		return s.Make(path, writes(data), nil)
	}))
}

// Make writes what write writes in the place of the file at path, in a folder that is there, or changes nothing. check,
// unless nil, looks at the whole file before it takes its place. The errors are theirs or the system's, bare.
func (s *Store) Make(path string, write func(io.Writer) error, check func(made string) error) error {
	return s.put(path, "-"+randomHex(4), write, check)
}

// writes returns what writes data.
func writes(data []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	}
}

// createNew writes a file that must not exist yet: then the error is fs.ErrExist. All that want the same path share the
// name of the temporary file, which only one of them can create; whoever has it sees whether the path was taken before.
func (s *Store) createNew(path string, data []byte) error {
	return s.put(path, "", writes(data), func(string) error {
		if _, err := os.Lstat(path); err == nil {
			return fs.ErrExist
		}
		return nil
	})
}

// ErrUnsynced marks the Error of a new file that is in its place but may be lost, or be the old
// one again, after a power cut.
var ErrUnsynced = errors.New("in place, but a power cut may undo it")

// put writes a temporary file, whose path ready is given before it is renamed; nil is ready.
func (s *Store) put(path, tag string, write func(io.Writer) error, ready func(temp string) error) (err error) {
	perm := fs.FileMode(0o666)
	if info, err := os.Stat(path); err == nil {
		if perm = info.Mode().Perm(); perm&0o200 == 0 {
			return &fs.PathError{Op: "replace a read-only file", Path: path, Err: fs.ErrPermission}
		}
	}
	temp := besidePath(path, tag, tempEnding)
	t, err := s.Files.Create(temp, perm)
	if err != nil {
		return err
	}
	err = writeOut(t, write)
	if err == nil && ready != nil {
		err = ready(temp)
	}
	if err == nil {
		err = s.Files.Rename(temp, path)
	}
	if err != nil {
		s.Files.Remove(temp)
		return err
	}
	if err := s.Files.SyncDir(filepath.Dir(path)); err != nil {
		return fmt.Errorf("%w: %w", ErrUnsynced, err)
	}
	return nil
}

// writeOut writes, syncs and closes, and stops at the first of them that fails, but for closing.
func writeOut(t File, write func(io.Writer) error) error {
	err := write(t)
	if err == nil {
		err = t.Sync()
	}
	return errors.Join(err, t.Close())
}

// TimeLayout is that of the time at the start of SaveNew's names: they sort by time.
const TimeLayout = "20060102T150405.000Z"

// nameTries is how many names are tried for a file. Chosen: two of the same millisecond meet once in 65536.
const nameTries = 20

// SaveNew writes a new file in dir, whose name is made of the time, the number unless it is 0, chance and ending,
// and returns its path. The path is there with ErrUnsynced as well, and else "" with an Error.
func (s *Store) SaveNew(dir, ending string, at time.Time, number int, data []byte) (path string, err error) {
	begin := at.UTC().Format(TimeLayout)
	if number > 0 {
		begin += "-" + strconv.Itoa(number)
	}
	path = dir
	err = s.inFolder(dir, func() (err error) {
		for range nameTries {
			path = filepath.Join(dir, begin+"-"+randomHex(2)+ending)
			if err = s.createNew(path, data); !errors.Is(err, fs.ErrExist) {
				break
			}
		}
		return err
	})
	if err != nil && !errors.Is(err, ErrUnsynced) {
		return "", NotSaved(path, err)
	}
	return path, NotSaved(path, err)
}

// NameParts returns the number in the name of a file that SaveNew made, 0 for none, and its part of chance. A name
// of another make has no number, and is all chance.
func NameParts(name string) (number int, chance string) {
	name = strings.TrimSuffix(name, filepath.Ext(name))
	parts := strings.Split(name, "-")
	if len(parts) == 3 {
		number, _ = strconv.Atoi(parts[1])
	}
	return max(number, 0), parts[len(parts)-1]
}

// Remove takes a file away for good; one that is gone already is no error.
func (s *Store) Remove(path string) error {
	err := ignore(fs.ErrNotExist, s.Files.Remove(path))
	if err == nil {
		err = s.Files.SyncDir(filepath.Dir(path))
	}
	if err != nil {
		return &Error{Path: path, Problem: "can't be taken away", Err: err}
	}
	return nil
}

// AsideFolder is where damaged files are set aside, beside where they were.
const AsideFolder = "damaged"

// SetAside moves a file into the AsideFolder beside it, and returns where it is then. Nothing
// there is overwritten, and nothing is ever deleted.
func (s *Store) SetAside(path string) (to string, err error) {
	dir := filepath.Join(filepath.Dir(path), AsideFolder)
	if err = s.MakeDirs(dir); err == nil {
		to = filepath.Join(dir, filepath.Base(path))
		for n := 2; ; n++ {
			if _, err := os.Lstat(to); errors.Is(err, fs.ErrNotExist) {
				break
			}
			to = filepath.Join(dir, fmt.Sprintf("%s+%d", filepath.Base(path), n))
		}
		err = s.Files.Rename(path, to)
	}
	for _, d := range []string{dir, filepath.Dir(path)} {
		if err == nil {
			err = s.Files.SyncDir(d)
		}
	}
	if err != nil {
		return "", &Error{Path: path, Problem: "can't be set aside", Err: err}
	}
	return to, nil
}

// SweepAge is how old a temporary file or a lock must be to count as left behind. Chosen: a save
// takes milliseconds, on a failing disk seconds.
const SweepAge = time.Minute

// Sweep removes what killed programs left in a folder. It fails silently: whatever it can't remove does no harm.
func Sweep(dir string, now time.Time) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if !e.Type().IsRegular() || !isTemp(e.Name()) {
			continue
		}
		// The absolute value: after the clock was set back, what is left may lie in the future.
		if info, err := e.Info(); err == nil && now.Sub(info.ModTime()).Abs() > SweepAge {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}
