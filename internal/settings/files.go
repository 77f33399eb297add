package settings

import (
	"fmt"
	"io"
	"os"

	"evendraw/internal/hint"
	"evendraw/internal/store"
)

// WriteFile writes a file that the user has named, whole or not at all; one that is there only where that is wanted.
func WriteFile(name string, overwrite bool, make func(io.Writer) error) error {
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() && !overwrite {
		return hint.With(fmt.Errorf("%s is there already, and was left as it is", name),
			"give another name, or --overwrite to replace it")
	}
	return hint.Named(store.New().Write(name, make))
}
