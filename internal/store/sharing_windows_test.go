package store

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// A file that another program has open for itself alone, as while it takes another's place, is waited for.
func TestAFileThatIsHeldIsWaitedFor(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "card")
	if err := os.WriteFile(path, []byte("text"), 0o644); err != nil {
		t.Fatal(err)
	}
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		t.Fatal(err)
	}
	alone, err := syscall.CreateFile(name, syscall.GENERIC_READ, 0, nil, syscall.OPEN_EXISTING, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Open(path); err == nil {
		t.Error("the file is not held: this proves nothing")
	}
	time.AfterFunc(2*sharingPause, func() { syscall.CloseHandle(alone) })
	if text, err := Read(path); err != nil || string(text) != "text" {
		t.Errorf("read %q, %v", text, err)
	}
	if !holdsLock(path, "text") {
		t.Error("a lock that is held is not seen")
	}
}
