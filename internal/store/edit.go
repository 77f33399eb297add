package store

import (
	"bytes"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// A file is changed under a lock: a file beside it, ".NAME.evendraw-lock", that only one program
// can create. It holds a random token. System calls that lock differ from platform to platform and
// fail on shared folders, so this is all files.
//
// A killed program leaves its lock. Whoever waits takes a lock that is older than staleAge, or that stays the same for
// stalePatience by the waiter's own clock, for left behind, and removes it. That may hit a program which is only slow:
// therefore everyone looks, after the new text is written and synced and right before the rename, whether the lock
// still holds the own token and the file the text that was read. If not, the edit starts again on what the file holds
// then. What is left is a text editor that saves in the microseconds between that look and the rename, as it knows
// nothing of the lock.
const (
	lockEnding    = ".evendraw-lock"
	staleAge      = 10 * time.Second
	stalePatience = 3 * time.Second
	// lockPatience is how long to wait for others in all, and editTries how often an edit starts
	// anew. Chosen: more than stalePatience; a save takes milliseconds.
	lockPatience = 8 * time.Second
	editTries    = 5
)

var (
	errChanged = errors.New("the file was changed by someone else at the same time, again and again")
	errLocked  = errors.New("another program is saving it and does not come to an end")
)

// pathLocks keeps the goroutines of this program from each other, so that they need not wait for files.
var pathLocks sync.Map // path to *sync.Mutex

// Edit changes the file at path from what it holds, nil if there is none, to what change returns, and makes its folder
// if need be. A nil text from change leaves the file alone. The error is change's, or an Error.
func (s *Store) Edit(path string, change func(old []byte) ([]byte, error)) (err error) {
	folder := s.inFolder(filepath.Dir(path), func() error {
		err = s.editIn(path, change)
		return err
	})
	if err != nil {
		return err
	}
	return NotSaved(path, folder)
}

// editIn is Edit in a folder that is there.
func (s *Store) editIn(path string, change func(old []byte) ([]byte, error)) error {
	held, _ := pathLocks.LoadOrStore(path, new(sync.Mutex))
	mu := held.(*sync.Mutex)
	mu.Lock()
	defer mu.Unlock()
	for range editTries {
		err := s.tryEdit(path, change)
		if err != errChanged {
			return err
		}
	}
	return NotSaved(path, errChanged)
}

// tryEdit returns errChanged, bare, when the file or the lock changed under it.
func (s *Store) tryEdit(path string, change func(old []byte) ([]byte, error)) error {
	lock := besidePath(path, "", lockEnding)
	token, err := s.takeLock(lock)
	if err != nil {
		return NotSaved(path, err)
	}
	defer func() {
		if holdsLock(lock, token) {
			s.Files.Remove(lock)
		}
	}()
	old, err := ReadIfThere(path)
	if err != nil {
		return err
	}
	text, err := change(old)
	if err != nil || text == nil {
		return err
	}
	err = s.Make(path, writes(text), func(string) error {
		now, err := ReadIfThere(path)
		if err != nil {
			return err
		}
		if !bytes.Equal(now, old) || (now == nil) != (old == nil) || !holdsLock(lock, token) {
			return errChanged
		}
		return nil
	})
	if err == errChanged {
		return err
	}
	return NotSaved(path, err)
}

// takeLock waits for the lock file and makes it ours.
func (s *Store) takeLock(lock string) (token string, err error) {
	token = randomHex(8)
	begin, seen, seenAt := time.Now(), "", time.Now()
	for {
		made, err := s.Files.Create(lock, 0o666)
		if err == nil {
			if err := writeLock(made, token); err != nil {
				s.Files.Remove(lock)
				return "", err
			}
			return token, nil
		}
		if !errors.Is(err, fs.ErrExist) {
			return "", err
		}
		if holder, age := readLock(lock); holder != seen {
			seen, seenAt = holder, time.Now()
		} else if age > staleAge || time.Since(seenAt) > stalePatience {
			s.Files.Remove(lock)
			seen = ""
		}
		if time.Since(begin) > lockPatience {
			return "", errLocked
		}
		time.Sleep(time.Millisecond + rand.N(2*time.Millisecond))
	}
}

// writeLock writes without fsync: a lock need not outlive a power cut.
func writeLock(f File, token string) error {
	_, err := f.Write([]byte(token))
	return errors.Join(err, f.Close())
}

// readLock returns what the lock holds and how old it is. A clock that was set back makes it no younger.
func readLock(lock string) (holder string, age time.Duration) {
	data, err := os.ReadFile(lock)
	info, statErr := os.Stat(lock)
	if err != nil || statErr != nil {
		return "?", 0
	}
	return "=" + string(data), time.Since(info.ModTime()).Abs()
}

func holdsLock(lock, token string) bool {
	var data []byte
	err := retryOnSharing(func() (err error) { data, err = os.ReadFile(lock); return err })
	return err == nil && string(data) == token
}
