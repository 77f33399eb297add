package garage

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"
)

// Writing a file so that after a kill or a power cut it is the old one or the
// new one, never anything between: a temporary file in the same folder, write,
// fsync, close, rename, fsync of the folder. These few lines are our own
// because github.com/google/renameio does without Windows and without the
// fsync of the folder, and leaves temporary files nobody sweeps.
//
// A file whose fsync failed is never synced again, because the kernel may have
// dropped its data and say "done" the second time: every try has a new
// temporary file.

// files is what is needed of a file system to write; tests make it fail.
type files interface {
	// create makes a new file for writing; fs.ErrExist if there is one.
	create(path string, perm fs.FileMode) (file, error)
	rename(from, to string) error
	remove(path string) error
	mkdir(path string) error
	// syncDir makes the names in a folder last.
	syncDir(path string) error
}

type file interface {
	io.Writer
	Sync() error
	Close() error
}

type osFiles struct{}

func (osFiles) create(path string, perm fs.FileMode) (made file, err error) {
	return made, patiently(func() error {
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, perm)
		if err == nil {
			made = f
		}
		return err
	})
}

func (osFiles) rename(from, to string) error {
	return patiently(func() error { return os.Rename(from, to) })
}

func (osFiles) remove(path string) error { return patiently(func() error { return os.Remove(path) }) }
func (osFiles) mkdir(path string) error  { return os.Mkdir(path, 0o777) }

// patiently repeats what Windows refuses while another program, be it a virus
// scanner, has the file open. Elsewhere it tries once.
func patiently(op func() error) error {
	const sharingViolation = syscall.Errno(32) // ERROR_SHARING_VIOLATION
	err := op()
	for range 20 {
		if err == nil || runtime.GOOS != "windows" || !errors.Is(err, sharingViolation) && !errors.Is(err, fs.ErrPermission) {
			break
		}
		time.Sleep(10 * time.Millisecond)
		err = op()
	}
	return err
}

// syncDir does nothing on Windows, which has no such thing, and takes it for
// done where the file system says the same.
func (osFiles) syncDir(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// tempEnding marks temporary files, which begin with a dot as well.
const tempEnding = ".evendraw-tmp"

// besidePath returns the path of a file that goes with path while it is saved.
func besidePath(path, tag, ending string) string {
	return filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+tag+ending)
}

func randomHex(bytes int) string {
	b := make([]byte, bytes)
	rand.Read(b) // never fails
	return hex.EncodeToString(b)
}

// makeDirs makes a folder and those above it, and makes their names last.
func makeDirs(f files, dir string) error {
	if info, err := os.Stat(dir); err == nil {
		if !info.IsDir() {
			return &fs.PathError{Op: "mkdir", Path: dir, Err: syscall.ENOTDIR}
		}
		return nil
	}
	above := filepath.Dir(dir)
	if above != dir {
		if err := makeDirs(f, above); err != nil {
			return err
		}
	}
	if err := f.mkdir(dir); err != nil {
		return ifNot(fs.ErrExist, err)
	}
	if err := f.syncDir(above); err != nil {
		f.remove(dir) // so that the next try syncs as well
		return err
	}
	return nil
}

// ifNot returns err unless it is what.
func ifNot(what, err error) error {
	if errors.Is(err, what) {
		return nil
	}
	return err
}

// replace puts data in the place of the file at path, whether there is one or
// not. Just before, ready is asked once more; nil is yes. On an error the file
// is as it was, but for errUnsynced.
func replace(f files, path string, data []byte, ready func() error) error {
	return put(f, path, "-"+randomHex(4), data, ready)
}

// createNew is replace for a file that must not exist yet: then the error is
// fs.ErrExist. All that want the same path share the name of the temporary
// file, which only one of them can create; whoever has it sees whether
// the path was taken before.
func createNew(f files, path string, data []byte) error {
	return put(f, path, "", data, func() error {
		if _, err := os.Lstat(path); err == nil {
			return fs.ErrExist
		}
		return nil
	})
}

// errUnsynced is returned when the new file is in its place but may be lost, or be the
// old one again, after a power cut.
var errUnsynced = errors.New("in place, but a power cut may undo it")

func put(f files, path, tag string, data []byte, ready func() error) (err error) {
	perm := fs.FileMode(0o666)
	if info, err := os.Stat(path); err == nil {
		if perm = info.Mode().Perm(); perm&0o200 == 0 {
			return &fs.PathError{Op: "replace a read-only file", Path: path, Err: fs.ErrPermission}
		}
	}
	temp := besidePath(path, tag, tempEnding)
	t, err := f.create(temp, perm)
	if err != nil {
		return err
	}
	defer func() {
		if temp != "" {
			f.remove(temp)
		}
	}()
	if err := writeOut(t, data); err != nil {
		return err
	}
	if err := ready(); err != nil {
		return err
	}
	if err := f.rename(temp, path); err != nil {
		return err
	}
	temp = ""
	if err := f.syncDir(filepath.Dir(path)); err != nil {
		return fmt.Errorf("%w: %w", errUnsynced, err)
	}
	return nil
}

// writeOut writes, syncs and closes, and stops at the first of them that
// fails, but for closing.
func writeOut(t file, data []byte) error {
	_, err := t.Write(data)
	if err == nil {
		err = t.Sync()
	}
	return errors.Join(err, t.Close())
}

// maxFile is the largest file that is read or written, in bytes. Chosen: a
// card takes 3 KB, a record with a hundred turns 20 KB.
const maxFile = 1 << 20

// readFile returns the content of a regular file of at most maxFile bytes. A
// pipe or a device in its place is refused and not waited for.
func readFile(path string) ([]byte, error) {
	f, size, err := openPlain(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	// Room for a byte more than there is: a file that leaves it empty has ended.
	data := make([]byte, min(size, maxFile)+1)
	n, err := f.Read(data)
	if data = data[:n]; n == cap(data) {
		var rest []byte
		rest, err = io.ReadAll(io.LimitReader(f, maxFile+1))
		data = append(data, rest...)
	}
	err = ifNot(io.EOF, err)
	if err != nil {
		return nil, &Error{Path: path, Problem: "can't be read", Err: err}
	}
	if len(data) > maxFile {
		return nil, &Error{Path: path, Problem: fmt.Sprintf("is larger than %d bytes", maxFile)}
	}
	return data, nil
}

// isTemp reports whether a file name is one of ours that is in use only while
// something is saved.
func isTemp(name string) bool {
	return strings.HasPrefix(name, ".") && (strings.HasSuffix(name, tempEnding) || strings.HasSuffix(name, lockEnding))
}
