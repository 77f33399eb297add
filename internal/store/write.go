package store

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Write writes what write writes to a file that the user has named: the whole file takes the place of an older one, or
// that stays as it was. A pipe or a device of that name is written to as it is, and a link is followed.
func (s *Store) Write(name string, write func(io.Writer) error) error {
	path, err := filepath.EvalSymlinks(name)
	if errors.Is(err, fs.ErrNotExist) {
		path = name
	} else if err != nil {
		return err
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return writeInto(path, write)
	}
	Sweep(filepath.Dir(path), time.Now())
	err = s.Make(path, buffered(write), nil)
	if err != nil && !errors.Is(err, ErrUnsynced) {
		return &notWritten{name, err}
	}
	return err
}

// notWritten is why a file that the user has named is as it was. The temporary file is not told of.
type notWritten struct {
	name string
	err  error
}

func (e *notWritten) Error() string {
	return fmt.Sprintf("%s was not written, nothing is changed: %s", e.name, cause(e.err))
}
func (e *notWritten) Unwrap() error { return e.err }

// buffered writes in large pieces.
func buffered(write func(io.Writer) error) func(io.Writer) error {
	return func(w io.Writer) error {
		b := bufio.NewWriter(w)
		if err := write(b); err != nil {
			return err
		}
		return b.Flush()
	}
}

// writeInto writes into what is there.
func writeInto(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(buffered(write)(f), f.Close())
}
