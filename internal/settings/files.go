package settings

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"evendraw/internal/hint"
	"evendraw/internal/store"
)

// Target is a file that the user names to be written.
type Target struct {
	Flag      string // that names it, with its dashes
	Name      string // "" is not given
	Endings   []string
	Overwrite bool // one that is there is replaced
}

// Check refuses a name before anything is written: one that does not say what is in the file, a folder's, and that of a
// file that is there. A device and a pipe may have any name.
func (t *Target) Check() error {
	if t.Name == "" {
		return nil
	}
	ends := strings.Join(t.Endings, " or ")
	info, err := os.Stat(t.Name)
	switch {
	case t.Name == "-":
		return hint.Usagef("%s -: nothing is printed there; name a file that ends in %s", t.Flag, ends)
	case err == nil && info.IsDir():
		return hint.Usagef("%s: %s is a folder; name a file in it that ends in %s", t.Flag, t.Name, ends)
	case err == nil && !info.Mode().IsRegular():
		return nil
	case !slices.Contains(t.Endings, strings.ToLower(filepath.Ext(t.Name))):
		return hint.Usagef("%s %q: the file's name is to end in %s", t.Flag, t.Name, ends)
	case err == nil && !t.Overwrite:
		return isThere(t.Name)
	}
	return nil
}

// Write writes the file, whole or not at all.
func (t *Target) Write(make func(io.Writer) error) error { return WriteFile(t.Name, t.Overwrite, make) }

// WriteFile writes a file, whole or not at all; one that is there only where that is wanted.
func WriteFile(name string, overwrite bool, make func(io.Writer) error) error {
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() && !overwrite {
		return isThere(name)
	}
	return hint.Named(store.New().Write(name, make))
}

func isThere(name string) error {
	return hint.With(fmt.Errorf("%s is there already, and was left as it is", name),
		"give another name, or --overwrite to replace it")
}
