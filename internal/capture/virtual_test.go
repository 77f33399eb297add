package capture

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// When a File writes and syncs, in virtual time.

// What is promised: a crash loses the first at most, a power cut the second and what the disk takes.
const (
	crashLoses = 100 * time.Millisecond
	cutLoses   = 500 * time.Millisecond
)

// call is a Write or a Sync that a disk got: when, and how many bytes it then had.
type call struct {
	at   time.Duration
	size int
}

// disk takes its time, or fails. It is used within a bubble of virtual time.
type disk struct {
	writing, syncing time.Duration // how long a call takes
	writeErr, wrong  error         // what Write and Sync return
	begun            time.Time

	mu            sync.Mutex // never held while time passes
	data          []byte
	safe          int // so many of the bytes are safely there
	writes, syncs []call
	closed        bool
}

// file begins a capture on the disk, whose head goes through at once.
func (d *disk) file(t *testing.T) *File {
	t.Helper()
	writing, err := d.writing, d.writeErr
	d.writing, d.writeErr, d.begun = 0, nil, time.Now()
	c, failed := newFile(d, Head{{"board", "T1"}})
	if failed != nil {
		t.Fatal(failed)
	}
	d.writing, d.writeErr, d.writes = writing, err, nil
	return c
}

func (d *disk) Write(p []byte) (int, error) {
	time.Sleep(d.writing)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.data = append(d.data, p...)
	d.writes = append(d.writes, call{time.Since(d.begun), len(d.data)})
	if d.writeErr != nil {
		return 0, d.writeErr
	}
	return len(p), nil
}

func (d *disk) Sync() error {
	d.mu.Lock()
	size := len(d.data)
	d.syncs = append(d.syncs, call{time.Since(d.begun), size})
	d.mu.Unlock()
	time.Sleep(d.syncing)
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.wrong == nil {
		d.safe = size
	}
	return d.wrong
}

func (d *disk) Close() error { d.closed = true; return nil }

// sizes returns how much the system has, and how much of it is safely on the disk.
func (d *disk) sizes() (have, safe int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.data), d.safe
}

// every returns the instants each, 2 each, … up to the end.
func every(each, end time.Duration) (at []time.Duration) {
	for t := each; t <= end; t += each {
		at = append(at, t)
	}
	return at
}

func instants(calls []call) (at []time.Duration) {
	for _, c := range calls {
		at = append(at, c.at)
	}
	return at
}

// What comes is with the system each 0.1 s and safely on the disk each 0.5 s, to the nanosecond:
// a crash loses a tenth of a second, a power cut half a second and what the disk takes, a second at most.
func TestCaptureIsWrittenInTime(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		syncing time.Duration
		worst   time.Duration // of what a power cut loses
	}{{"a quick disk", 0, 500 * time.Millisecond}, {"a usual disk", 20 * time.Millisecond, 520 * time.Millisecond},
		{"a slow disk", 499 * time.Millisecond, 999 * time.Millisecond}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := &disk{syncing: c.syncing}
				f := d.file(t)
				crash, cut := lossesOf(t, f, d, 5*time.Second)
				if got := instants(d.writes); !slices.Equal(got, every(crashLoses, 5*time.Second)) {
					t.Errorf("written at %v", got)
				}
				if got := instants(d.syncs); !slices.Equal(got, every(cutLoses, 5*time.Second)) {
					t.Errorf("synced at %v", got)
				}
				// Bytes come half a millisecond after each full one.
				if crash != crashLoses || cut != c.worst {
					t.Errorf("a crash loses %v, a power cut %v, want %v and %v", crash, cut, crashLoses, c.worst)
				}
				if err := f.Close(); err != nil || !d.closed {
					t.Errorf("closed %v, %v", d.closed, err)
				}
				if have, safe := d.sizes(); safe != have {
					t.Errorf("%d of %d bytes are safe after Close", safe, have)
				}
			})
		})
	}
}

// lossesOf writes 24 bytes each millisecond, half a millisecond off the instants at which a
// File writes, and returns how many milliseconds of them a crash and a power cut lose at
// worst.
func lossesOf(t *testing.T, f *File, d *disk, long time.Duration) (crash, cut time.Duration) {
	t.Helper()
	const step, frame = time.Millisecond, 24
	head, _ := d.sizes()
	time.Sleep(step / 2)
	for n := 1; n <= int(long/step); n++ {
		if _, err := f.Write(make([]byte, frame)); err != nil {
			t.Fatal(err)
		}
		have, safe := d.sizes()
		crash = max(crash, step*time.Duration((head+n*frame-have)/frame))
		cut = max(cut, step*time.Duration((head+n*frame-max(safe, head))/frame))
		time.Sleep(step)
	}
	synctest.Wait() // for what is written at this very instant
	return crash, cut
}

// A disk that stands still holds nobody up, and its bytes are all there in the end.
func TestSlowDiskHoldsNobodyUp(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		d := &disk{writing: 10 * time.Second, syncing: time.Minute}
		c := d.file(t)
		head := len(d.data)
		var all bytes.Buffer
		for n := range 60 {
			p := fmt.Appendf(nil, "piece %d\x00", n)
			all.Write(p)
			begun := time.Now()
			if _, err := c.Write(p); err != nil || time.Since(begun) != 0 {
				t.Fatalf("a Write took %v, %v", time.Since(begun), err)
			}
			time.Sleep(time.Second)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(d.data[head:], all.Bytes()) {
			t.Errorf("%d bytes are there, %d were taken", len(d.data)-head, all.Len())
		}
		if d.safe != len(d.data) {
			t.Errorf("%d of %d bytes are safe", d.safe, len(d.data))
		}
		if _, err := c.Write([]byte("x")); err == nil || c.Close() == nil {
			t.Error("a closed file takes more")
		}
	})
}

// While a sync stands still, the system goes on to get what comes, and no second sync begins.
func TestHangingSyncHoldsNothingUp(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		d := &disk{syncing: time.Minute}
		c := d.file(t)
		lossesOf(t, c, d, 30*time.Second)
		if len(d.syncs) != 1 || d.syncs[0].at != cutLoses {
			t.Errorf("synced at %v", instants(d.syncs))
		}
		if got := instants(d.writes); !slices.Equal(got, every(crashLoses, 30*time.Second)) {
			t.Errorf("written %d times", len(got))
		}
		c.Close()
	})
}

// What a disk refuses is reported at the next Write, and nothing is written after it, not even what waits.
func TestFailingDiskIsReported(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		disk  *disk
		after time.Duration
	}{{"write", &disk{writeErr: syscall.ENOSPC}, crashLoses},
		{"sync", &disk{wrong: syscall.ENOSPC, syncing: crashLoses / 2}, cutLoses + crashLoses/2}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := c.disk.file(t)
				begun := time.Now()
				time.Sleep(time.Millisecond / 2)
				var err error
				for err == nil && time.Since(begun) < time.Minute {
					_, err = f.Write([]byte("x"))
					time.Sleep(time.Millisecond)
				}
				if after := time.Since(begun); !errors.Is(err, syscall.ENOSPC) || after > c.after+2*time.Millisecond {
					t.Errorf("reported after %v: %v", after, err)
				}
				writes, syncs := len(c.disk.writes), len(c.disk.syncs)
				time.Sleep(time.Minute)
				if err := f.Close(); !errors.Is(err, syscall.ENOSPC) || !c.disk.closed {
					t.Errorf("Close: %v, closed %v", err, c.disk.closed)
				}
				if len(c.disk.writes) != writes || len(c.disk.syncs) != syncs {
					t.Errorf("tried again: %d writes and %d syncs, then %d and %d", writes, syncs,
						len(c.disk.writes), len(c.disk.syncs))
				}
			})
		})
	}
}

// A disk that stands still fills two buffers, and no more: then the capture ends.
func TestMemoryIsBounded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		d := &disk{writing: time.Hour}
		c := d.file(t)
		taken := 0
		fill := func() (err error) {
			for err == nil && taken < 4*maxWaiting {
				var n int
				if n, err = c.Write(make([]byte, 64<<10)); err == nil && taken == maxWaiting-64<<10 {
					time.Sleep(2 * crashLoses) // the first buffer goes to the disk
				}
				taken += n
			}
			return err
		}
		if err := fill(); !errors.Is(err, errTooSlow) || taken != 2*maxWaiting {
			t.Errorf("%d bytes, %v", taken, err)
		}
		if err := c.Close(); !errors.Is(err, errTooSlow) {
			t.Errorf("Close: %v", err)
		}
	})
}

func TestCreateRefuses(t *testing.T) {
	t.Parallel()
	if _, err := Create(filepath.Join(t.TempDir(), "none", "c"), nil); err == nil {
		t.Error("a capture in no folder")
	}
	path := filepath.Join(t.TempDir(), "c")
	os.WriteFile(path, []byte("mine"), 0o644)
	if _, err := Create(path, nil); !errors.Is(err, os.ErrExist) {
		t.Errorf("overwritten: %v", err)
	}
}
