package store

import (
	"errors"
	"io/fs"
	"path/filepath"
	"testing"
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
