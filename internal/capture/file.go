package capture

import (
	"errors"
	"os"
	"sync"
	"time"
)

// Ending is that of the names of captures.
const Ending = ".cap"

// File is a capture that is being written to a disk. Write never waits for the disk: it keeps the
// bytes in memory, from where they go to the system ten times a second and safely onto the disk
// (fsync) twice a second. A crash of this program loses a tenth of a second, a power cut half a
// second, or up to one second where an fsync takes half a second. A disk that stands still fills
// the memory, up to twice maxWaiting; the capture then ends with an error, and the reading goes on.
type File struct {
	f    syncWriter
	wake chan struct{} // closed by Close
	done chan struct{} // closed when the last is written

	mu      sync.Mutex
	waiting []byte // not yet handed to the system
	spare   []byte // the other buffer
	err     error  // the first error; nothing is written after it
	closed  bool

	syncing chan struct{} // holds a token while nothing is being synced
}

// syncWriter is what a File needs of an os.File.
type syncWriter interface {
	Write(p []byte) (int, error)
	Sync() error
	Close() error
}

// writeEvery and syncEvery are chosen so that at most a second is lost: see File. maxWaiting is
// 40 s of a board that sends 100 kB a second.
const (
	writeEvery = 100 * time.Millisecond
	syncEvery  = 500 * time.Millisecond
	maxWaiting = 4 << 20
)

var (
	errTooSlow = errors.New("the disk is too slow to take the bytes")
	errClosed  = errors.New("the file is closed")
)

// Create begins a capture in a new file; fs.ErrExist if there is one.
func Create(path string, head Head) (*File, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, err
	}
	c, err := newFile(f, head)
	if err != nil {
		f.Close()
		os.Remove(path) // it holds nothing
		return nil, err
	}
	return c, nil
}

func newFile(f syncWriter, head Head) (*File, error) {
	c := &File{f: f, wake: make(chan struct{}), done: make(chan struct{}), syncing: make(chan struct{}, 1)}
	c.syncing <- struct{}{}
	if err := WriteHead(c, head); err != nil {
		return nil, err
	}
	if err := c.flush(); err != nil {
		return nil, err
	}
	go c.run()
	return c, nil
}

// Write takes bytes as they came from the board. Its error is the first that the disk gave at
// any time; the bytes are then not kept.
func (c *File) Write(p []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case c.err != nil:
		return 0, c.err
	case c.closed:
		return 0, errClosed
	case len(c.waiting)+len(p) > maxWaiting:
		c.err = errTooSlow
		return 0, c.err
	}
	c.waiting = append(c.waiting, p...)
	return len(p), nil
}

// run writes and syncs until Close.
func (c *File) run() {
	defer close(c.done)
	tick := time.NewTicker(writeEvery)
	defer tick.Stop()
	synced := time.Now()
	for {
		select {
		case <-c.wake:
			c.flush()
			return
		case <-tick.C:
		}
		if c.flush() != nil {
			continue
		}
		if time.Since(synced) < syncEvery {
			continue
		}
		select {
		case <-c.syncing: // no sync is under way
			synced = time.Now()
			go c.sync()
		default:
		}
	}
}

// flush gives what waits to the system.
func (c *File) flush() error {
	c.mu.Lock()
	err, out := c.err, c.waiting
	c.waiting, c.spare = c.spare[:0], nil
	c.mu.Unlock()
	if err == nil && len(out) > 0 {
		_, err = c.f.Write(out)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.spare = out
	if c.err == nil {
		c.err = err
	}
	return c.err
}

// sync puts what the system has on the disk. A sync that failed is never tried
// again on the same file: the kernel may have dropped the data.
func (c *File) sync() {
	err := c.f.Sync()
	c.mu.Lock()
	if c.err == nil {
		c.err = err
	}
	c.mu.Unlock()
	c.syncing <- struct{}{}
}

// Close puts the capture safely on the disk and returns the first error that the disk gave at any
// time.
func (c *File) Close() error {
	c.mu.Lock()
	if c.closed {
		c.mu.Unlock()
		return errClosed
	}
	c.closed = true
	c.mu.Unlock()
	close(c.wake)
	<-c.done
	<-c.syncing
	c.mu.Lock()
	err := c.err
	c.mu.Unlock()
	if err == nil {
		err = c.f.Sync()
	}
	if e := c.f.Close(); err == nil {
		err = e
	}
	return err
}
