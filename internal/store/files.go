package store

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"runtime"
	"syscall"
	"time"
)

// Files is what is needed of a file system to write; tests make it fail.
type Files interface {
	// Create makes a new file for writing; fs.ErrExist if there is one.
	Create(path string, perm fs.FileMode) (File, error)
	Rename(from, to string) error
	Remove(path string) error
	Mkdir(path string) error
	// SyncDir makes the names in a folder last.
	SyncDir(path string) error
}

// File is a file that is being written.
type File interface {
	io.Writer
	Sync() error
	Close() error
}

// Disk is the Files of the operating system.
type Disk struct{}

// Create makes a new file for writing; fs.ErrExist if there is one.
func (Disk) Create(path string, perm fs.FileMode) (made File, err error) {
	return made, retryOnSharing(func() error {
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, perm)
		if err == nil {
			made = f
		}
		return err
	})
}

// Rename gives a file another name, in the place of a file that has it.
func (Disk) Rename(from, to string) error {
	return retryOnSharing(func() error { return os.Rename(from, to) })
}

// Remove takes a file away.
func (Disk) Remove(path string) error {
	return retryOnSharing(func() error { return os.Remove(path) })
}

// Mkdir makes a folder.
func (Disk) Mkdir(path string) error { return os.Mkdir(path, 0o777) }

// SyncDir does nothing on Windows, which has no such thing, and takes it for done where the file system says the same.
func (Disk) SyncDir(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	defer d.Close()
	return ignore(syscall.EINVAL, ignore(errors.ErrUnsupported, d.Sync()))
}

// How often, and how long apart, to try again what Windows refuses. Chosen: a virus scanner has a
// small file open for some milliseconds.
const (
	sharingTries = 20
	sharingPause = 10 * time.Millisecond
)

// retryOnSharing repeats what Windows refuses while another program has the file open. Elsewhere it tries once.
func retryOnSharing(op func() error) error {
	const sharingViolation = syscall.Errno(32) // ERROR_SHARING_VIOLATION
	err := op()
	for range sharingTries {
		isSharing := errors.Is(err, sharingViolation) || errors.Is(err, fs.ErrPermission)
		if runtime.GOOS != "windows" || !isSharing {
			break
		}
		time.Sleep(sharingPause)
		err = op()
	}
	return err
}

// ignore returns err unless it is what.
func ignore(what, err error) error {
	if errors.Is(err, what) {
		return nil
	}
	return err
}
