package garage

import (
	"errors"
	"os"
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
