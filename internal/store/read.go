package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
)

// MaxFile is the largest file that is read, in bytes. Chosen: a card takes 3 KB, a record with a hundred turns 20 KB.
const MaxFile = 1 << 20

// Open opens a regular file and returns its size in bytes. A pipe or a device in its place is
// refused and not waited for.
func Open(path string) (*os.File, int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, 0, AsError(path, err)
	}
	if !info.Mode().IsRegular() {
		return nil, 0, &Error{Path: path, Problem: "is not a plain file"}
	}
	var f *os.File
	if err := retryOnSharing(func() (err error) { f, err = os.Open(path); return err }); err != nil {
		return nil, 0, AsError(path, err)
	}
	return f, info.Size(), nil
}

// Read returns the content of a regular file of at most MaxFile bytes.
func Read(path string) ([]byte, error) {
	f, size, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var data bytes.Buffer
	data.Grow(int(min(size, MaxFile)) + bytes.MinRead)
	if _, err := data.ReadFrom(io.LimitReader(f, MaxFile+1)); err != nil {
		return nil, AsError(path, err)
	}
	if data.Len() > MaxFile {
		return nil, &Error{Path: path, Problem: fmt.Sprintf("is larger than %d bytes", MaxFile)}
	}
	return data.Bytes(), nil
}

// ReadIfThere is Read, but nil for a file that does not exist, and otherwise never nil.
func ReadIfThere(path string) ([]byte, error) {
	data, err := Read(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return data, err
}

// Folders returns the names of the folders in a folder, sorted; none if it is not there.
func Folders(dir string) (names []string, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		// Stat, not the entry's type, so that a link to a folder counts.
		if info, err := os.Stat(filepath.Join(dir, e.Name())); err == nil && info.IsDir() {
			names = append(names, e.Name())
		}
	}
	return names, ignore(fs.ErrNotExist, err)
}

// Paths returns the paths of the files in a folder with one of those endings, sorted by name; none if there
// is no folder. Hidden ones don't count.
func Paths(dir string, endings ...string) (paths []string, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		name := e.Name()
		ends := slices.ContainsFunc(endings, func(ending string) bool { return strings.HasSuffix(name, ending) })
		if ends && !strings.HasPrefix(name, ".") {
			paths = append(paths, filepath.Join(dir, name))
		}
	}
	return paths, ignore(fs.ErrNotExist, err)
}

// List reads all files of a folder with one of those endings, as many at once as there are cores, and
// returns what they hold by name, and apart the errors of those that are damaged.
func List[T any](dir string, endings []string, load func(path string) (T, error)) (list []T, damaged []*Error) {
	paths, err := Paths(dir, endings...)
	if err != nil {
		damaged = append(damaged, AsError(dir, err))
	}
	values, errs := make([]T, len(paths)), make([]error, len(paths))
	var group sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), len(paths))
	for w := range workers {
		group.Go(func() {
			for i := w; i < len(paths); i += workers {
				values[i], errs[i] = load(paths[i])
			}
		})
	}
	group.Wait()
	for i, err := range errs {
		switch {
		case errors.Is(err, fs.ErrNotExist): // removed meanwhile
		case err != nil:
			damaged = append(damaged, AsError(paths[i], err))
		default:
			list = append(list, values[i])
		}
	}
	return list, damaged
}
