package capture

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"evendraw/internal/store"
)

// killed is a file system on which nothing happens any more from a call on: a write is half done.
type killed struct {
	store.Disk
	left int // calls that are still done
}

var errKilled = errors.New("killed")

func (k *killed) alive() bool { k.left--; return k.left >= 0 }

func (k *killed) Create(path string, perm fs.FileMode) (store.File, error) {
	if !k.alive() {
		return nil, errKilled
	}
	f, err := k.Disk.Create(path, perm)
	return &killedFile{f, k}, err
}

func (k *killed) Rename(from, to string) error {
	if !k.alive() {
		return errKilled
	}
	return k.Disk.Rename(from, to)
}

func (k *killed) Remove(path string) error {
	if !k.alive() {
		return errKilled
	}
	return k.Disk.Remove(path)
}

func (k *killed) SyncDir(path string) error {
	if !k.alive() {
		return errKilled
	}
	return nil
}

type killedFile struct {
	store.File
	k *killed
}

func (f *killedFile) Write(p []byte) (int, error) {
	if !f.k.alive() {
		n, _ := f.File.Write(p[:len(p)/2])
		return n, errKilled
	}
	return f.File.Write(p)
}

func (f *killedFile) Sync() error {
	if !f.k.alive() {
		return errKilled
	}
	return nil
}

// Row 19: killed at each call, compressing leaves the capture, or the whole compressed one; and the next
// time it ends its work, whatever was left.
func TestPackKilled(t *testing.T) {
	t.Parallel()
	const head = "# evendraw capture 1\n#\n"
	text := append([]byte(head), bytes.Repeat([]byte("\x00frames of a board"), 40000)...)
	for calls := 0; ; calls++ {
		path := filepath.Join(t.TempDir(), "c.cap")
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		_, _, _, err := pack(t.Context(), &store.Store{Files: &killed{left: calls}}, path)
		got, readErr := os.ReadFile(path)
		if readErr != nil { // gone: the other must be whole
			if n, e := unpack(mustRead(t, path+PackedEnding)); e != nil || int(n) != len(text)-len(head) {
				t.Fatalf("after %d calls the capture is gone, and %d bytes are in the other: %v", calls, n, e)
			}
		} else if !bytes.Equal(got, text) {
			t.Fatalf("after %d calls the capture has changed", calls)
		}
		if packed, e := os.ReadFile(path + PackedEnding); e == nil {
			if _, e := unpack(packed); e != nil {
				t.Fatalf("after %d calls half a file stands under its name: %v", calls, e)
			}
		}
		if readErr == nil {
			if _, _, _, e := Pack(t.Context(), path); e != nil {
				t.Fatalf("after %d calls it can't be compressed any more: %v", calls, e)
			}
		}
		if err == nil {
			t.Logf("count: compressing killed at each of %d calls, 0 captures lost", calls)
			return
		}
	}
}

func mustRead(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// Half a file that an older program left under the name is no hindrance, and what stops it leaves all as it was.
func TestPackOverHalfAFile(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "c.cap")
	text := append([]byte("# evendraw capture 1\n#\n"), bytes.Repeat([]byte("\x00frames"), 1000)...)
	half := packedBytes(t, text)
	if err := errors.Join(os.WriteFile(path, text, 0o644),
		os.WriteFile(path+PackedEnding, half[:len(half)/2], 0o644)); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, _, _, err := Pack(ctx, path); !errors.Is(err, context.Canceled) || !bytes.Equal(mustRead(t, path), text) {
		t.Errorf("stopped: %v", err)
	}
	if _, _, _, err := Pack(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	if _, err := unpack(mustRead(t, path+PackedEnding)); err != nil {
		t.Error(err)
	}
}

// lying is a file system that keeps another byte than it was given, and says nothing.
type lying struct {
	store.Disk
	at int
}

func (l *lying) Create(path string, perm fs.FileMode) (store.File, error) {
	f, err := l.Disk.Create(path, perm)
	return &lyingFile{f, l}, err
}

type lyingFile struct {
	store.File
	l *lying
}

func (f *lyingFile) Write(p []byte) (int, error) {
	kept := bytes.Clone(p)
	if at := f.l.at; at >= 0 && at < len(p) {
		kept[at] ^= 4
	}
	f.l.at -= len(p)
	return f.File.Write(kept)
}

// The capture goes only when the compressed one was read back and is the same.
func TestPackReadsBack(t *testing.T) {
	t.Parallel()
	const head = "# evendraw capture 1\n#\n"
	text := append([]byte(head), bytes.Repeat([]byte("\x00frames of a board"), 400)...)
	refused := 0
	path := filepath.Join(t.TempDir(), "c.cap")
	for at := range 60 {
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		os.Remove(path + PackedEnding)
		_, _, _, err := pack(t.Context(), &store.Store{Files: &lying{at: at}}, path)
		if _, gone := os.Stat(path); err == nil != errors.Is(gone, fs.ErrNotExist) {
			t.Errorf("byte %d is another: %v, and the capture: %v", at, err, gone)
		}
		packed, readErr := os.ReadFile(path + PackedEnding)
		if err != nil && readErr == nil {
			t.Errorf("byte %d is another: what is not the capture stands as the compressed one", at)
		}
		if n, e := unpack(packed); err == nil && (e != nil || n != int64(len(text)-len(head))) {
			t.Errorf("byte %d is another: the capture is gone, and %d bytes are in the other: %v", at, n, e)
		}
		if err != nil {
			refused++
		}
	}
	if refused < 40 { // some bytes of gzip's head mean nothing
		t.Errorf("%d of 60 were noticed", refused)
	}
}
