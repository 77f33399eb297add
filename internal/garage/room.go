package garage

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// roomBytes is what must fit on the disk for the records of a run. Chosen: thirty of some 8 kB (measured).
const roomBytes = 256 << 10

// Room returns why a run's records would not fit in a folder that is there, nil if they do. It leaves no trace.
func Room(dir string) error {
	f, err := os.CreateTemp(dir, ".evendraw-*")
	if err != nil {
		return err
	}
	_, err = f.Write(make([]byte, roomBytes))
	return errors.Join(err, f.Sync(), f.Close(), os.Remove(f.Name()))
}

// FolderAt returns a garage's folder, or what is there of the path to it; the error says that a file is in its place.
func FolderAt(dir string) (string, error) {
	for {
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			return "", fmt.Errorf("%s is a file, not a folder: no garage can be there", dir)
		}
		if above := filepath.Dir(dir); err != nil && above != dir {
			dir = above
			continue
		}
		return dir, nil
	}
}
