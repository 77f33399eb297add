package garage

import (
	"bytes"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"sync"
	"time"
)

// A card is changed under a lock: a file beside it, ".bike.toml.evendraw-lock",
// that only one program can create. It holds a random token. System calls that
// lock differ from platform to platform and fail on shared folders, so this is
// all files.
//
// A killed program leaves its lock. Whoever waits takes a lock that is older than
// staleAge, or that stays the same for stalePatience by the waiter's own
// clock, for left behind, and removes it. That may hit a program which is only slow:
// therefore everyone looks, after the new text is written and synced and right before
// the rename, whether the lock still holds the own token and the card the text that was
// read. If not, the edit starts again on what the card holds then. What is left
// is an editor that saves in the microseconds between that look and the
// rename, as it knows nothing of the lock.
const (
	lockEnding    = ".evendraw-lock"
	staleAge      = 10 * time.Second
	stalePatience = 3 * time.Second
	// lockPatience is how long to wait for others in all, and editTries how
	// often an edit starts anew. Chosen: more than stalePatience; a save
	// takes milliseconds.
	lockPatience = 8 * time.Second
	editTries    = 5
)

var (
	errChanged = errors.New("the file was changed by someone else at the same time, again and again")
	errLocked  = errors.New("another program is saving it and does not come to an end")
)

// cardLocks keeps the goroutines of this program from each other, so that they need
// not wait for files.
var cardLocks sync.Map // path to *sync.Mutex

// edit changes the file at path from what it holds, nil if there is none, to
// what change returns. A nil text from change leaves the file alone.
func (g *Garage) edit(path string, change func(old []byte) ([]byte, error)) error {
	held, _ := cardLocks.LoadOrStore(path, new(sync.Mutex))
	mu := held.(*sync.Mutex)
	mu.Lock()
	defer mu.Unlock()
	for range editTries {
		err := g.tryEdit(path, change)
		if err != errChanged {
			return err
		}
	}
	return notSaved(path, errChanged)
}

// tryEdit returns errChanged, bare, when the file or the lock changed under it.
func (g *Garage) tryEdit(path string, change func(old []byte) ([]byte, error)) error {
	lock := besidePath(path, "", lockEnding)
	token, err := g.takeLock(lock)
	if err != nil {
		return notSaved(path, err)
	}
	defer func() {
		if holdsLock(lock, token) {
			g.files.remove(lock)
		}
	}()
	old, err := readIfThere(path)
	if err != nil {
		return err
	}
	text, err := change(old)
	if err != nil || text == nil {
		return err
	}
	err = replace(g.files, path, text, func() error {
		now, err := readIfThere(path)
		if err != nil {
			return err
		}
		if !bytes.Equal(now, old) || (now == nil) != (old == nil) || !holdsLock(lock, token) {
			return errChanged
		}
		return nil
	})
	if err == nil || err == errChanged {
		return err
	}
	return notSaved(path, err)
}

// readIfThere returns nil for a file that does not exist, and otherwise never
// nil.
func readIfThere(path string) ([]byte, error) {
	data, err := readFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return data, err
}

// notSaved returns the Error of a save that failed.
func notSaved(path string, err error) error {
	if errors.Is(err, errUnsynced) {
		return &Error{Path: path, Problem: "was saved", Err: err}
	}
	return &Error{Path: path, Problem: "was not saved and is as it was", Err: err}
}

// takeLock waits for the lock file and makes it ours.
func (g *Garage) takeLock(lock string) (token string, err error) {
	token = randomHex(8)
	begin, seen, seenAt := time.Now(), "", time.Now()
	for {
		made, err := g.files.create(lock, 0o666)
		if err == nil {
			if err := writeLock(made, token); err != nil {
				g.files.remove(lock)
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
			g.files.remove(lock)
			seen = ""
		}
		if time.Since(begin) > lockPatience {
			return "", errLocked
		}
		time.Sleep(time.Millisecond + rand.N(2*time.Millisecond))
	}
}

// writeLock writes without fsync: a lock need not outlive a power cut.
func writeLock(f file, token string) error {
	_, err := f.Write([]byte(token))
	return errors.Join(err, f.Close())
}

// readLock returns what the lock holds and how old it is. A clock that was set
// back makes it no younger.
func readLock(lock string) (holder string, age time.Duration) {
	data, err := os.ReadFile(lock)
	info, statErr := os.Stat(lock)
	if err != nil || statErr != nil {
		return "?", 0
	}
	return "=" + string(data), time.Since(info.ModTime()).Abs()
}

func holdsLock(lock, token string) bool {
	data, err := os.ReadFile(lock)
	return err == nil && string(data) == token
}
