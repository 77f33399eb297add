package cli

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// tmux is the program on a real terminal.
type tmux struct {
	t      *testing.T
	socket string
	status string // file that gets the exit status
}

// startTmux runs the program in a terminal of that size.
func startTmux(t *testing.T, width, height int, garage string, args ...string) *tmux {
	t.Helper()
	effort.Need(t, "tmux", "tmux")
	dir := t.TempDir()
	tm := &tmux{t: t, socket: filepath.Join(dir, "tmux"), status: filepath.Join(dir, "status")}
	script := fmt.Sprintf("EVENDRAW_GARAGE=%q %q '%s'; status=$?; stty -a > %q; echo $status > %q; sleep 100",
		garage, binary, strings.Join(args, "' '"), filepath.Join(dir, "stty"), tm.status)
	tm.run("-f", os.DevNull, "new-session", "-d", "-x", fmt.Sprint(width), "-y", fmt.Sprint(height), script)
	t.Cleanup(func() { exec.Command("tmux", "-S", tm.socket, "kill-server").Run() })
	return tm
}

func (tm *tmux) run(args ...string) string {
	tm.t.Helper()
	out, err := exec.Command("tmux", append([]string{"-S", tm.socket}, args...)...).CombinedOutput()
	if err != nil {
		tm.t.Fatalf("tmux %v: %v\n%s", args, err, out)
	}
	return string(out)
}

// screen returns what stands on the screen.
func (tm *tmux) screen() string { return tm.run("capture-pane", "-p") }

func (tm *tmux) keys(keys ...string) { tm.run(append([]string{"send-keys"}, keys...)...) }

// await waits until text stands on the screen.
func (tm *tmux) await(text string) {
	tm.t.Helper()
	for begun := time.Now(); time.Since(begun) < effort.Hang; time.Sleep(50 * time.Millisecond) {
		if strings.Contains(tm.screen(), text) {
			return
		}
	}
	tm.t.Fatalf("%q did not come on the screen:\n%s", text, tm.screen())
}

// ended waits for the program to end, and returns its exit status.
func (tm *tmux) ended() string {
	tm.t.Helper()
	for begun := time.Now(); time.Since(begun) < effort.Hang; time.Sleep(50 * time.Millisecond) {
		if b, err := os.ReadFile(tm.status); err == nil && bytes.HasSuffix(b, []byte("\n")) {
			return strings.TrimSpace(string(b))
		}
	}
	tm.t.Fatalf("the program did not end:\n%s", tm.screen())
	return ""
}

// On a real terminal: the first picture, a pass, help, and the way out.
func TestScreenOnATerminal(t *testing.T) {
	t.Parallel()
	tm := startTmux(t, 80, 24, t.TempDir(), "live", "--practice")
	tm.await("Before the start")
	tm.keys("z")
	tm.await("Zero taken")
	tm.keys("?")
	tm.await("carbon monoxide")
	tm.keys("?", "q")
	if status := tm.ended(); status != "0" {
		t.Errorf("exit status %s", status)
	}
	if text := tm.screen(); strings.Contains(text, "Zero taken") {
		t.Errorf("the screen was not given back:\n%s", text)
	}
}

// A person who reads the terminal and presses the practice keys levels the bank in real time.
func TestScreenLevelsOnATerminal(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "a minute of a practice engine in real time")
	tm := startTmux(t, 80, 24, t.TempDir(), "live", "--practice")
	tm.await("Before the start")
	level(t, tm, func() { time.Sleep(350 * time.Millisecond) })
	tm.await("Saved:")
	tm.keys("q")
	if status := tm.ended(); status != "0" {
		t.Errorf("exit status %s", status)
	}
}
