package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// A new file takes no other's place.
func TestCreateNewOverwritesNothing(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "f")
	must(t, New().createNew(path, []byte("first")))
	if err := New().createNew(path, []byte("second")); !errors.Is(err, fs.ErrExist) || readText(t, path) != "first" {
		t.Errorf("a second file in one place: %v", err)
	}
}

// full is a disk without room for a file.
type full struct{ Disk }

func (full) Create(string, fs.FileMode) (File, error) { return nil, syscall.ENOSPC }

// Where nothing can be saved no folder is left behind that was made for it; one that was there stays.
func TestAFullDiskLeavesNoFolder(t *testing.T) {
	t.Parallel()
	there := t.TempDir()
	s, file := &Store{full{}}, filepath.Join(there, "a", "b", "f")
	for name, save := range map[string]func() error{
		"replace": func() error { return s.Replace(file, nil) },
		"edit":    func() error { return s.Edit(file, func([]byte) ([]byte, error) { return []byte("x"), nil }) },
		"new": func() error {
			_, err := s.SaveNew(filepath.Dir(file), ".f", time.Now(), 1, nil)
			return err
		},
	} {
		if err := save(); !errors.Is(err, syscall.ENOSPC) {
			t.Errorf("%s: %v", name, err)
		}
		if left, err := filepath.Glob(filepath.Join(there, "*")); len(left) > 0 || err != nil {
			t.Errorf("%s has left %v, %v", name, left, err)
		}
		if _, err := os.Stat(there); err != nil {
			t.Fatal(err)
		}
	}
}
