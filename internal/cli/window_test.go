package cli

import (
	"bytes"
	"io"
	"strings"
	"testing"
)

// The window of a double click stays until its last words were read.
func TestWindowStaysUntilEnter(t *testing.T) {
	t.Parallel()
	in, key := io.Pipe()
	var out bytes.Buffer
	closed := make(chan struct{})
	go func() {
		keepWindow(in, &out)
		close(closed)
	}()
	key.Write([]byte("x")) // is read, and not enough
	select {
	case <-closed:
		t.Error("it went at a key")
	default:
	}
	key.Write([]byte("\n"))
	<-closed
	if !strings.Contains(out.String(), "Press Enter to close this window") {
		t.Errorf("said %q", out.String())
	}
}
