package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
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
	need(t, "tmux", "tmux")
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
func (tm *tmux) await(text string, wait time.Duration) {
	tm.t.Helper()
	for end := time.Now().Add(wait); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		if strings.Contains(tm.screen(), text) {
			return
		}
	}
	tm.t.Fatalf("%q did not come on the screen in %v:\n%s", text, wait, tm.screen())
}

// ended waits for the program to end, and returns its exit status.
func (tm *tmux) ended(wait time.Duration) string {
	tm.t.Helper()
	for end := time.Now().Add(wait); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if b, err := os.ReadFile(tm.status); err == nil && len(b) > 0 {
			return strings.TrimSpace(string(b))
		}
	}
	tm.t.Fatalf("the program did not end in %v:\n%s", wait, tm.screen())
	return ""
}

var (
	turnWords = regexp.MustCompile(`[Tt]urn(?:ing)? screw (\S+) (clockwise|anticlockwise)`)
	handWords = regexp.MustCompile(`\[(\S+)\]`)
)

// followScreen does with the practice keys what the screen says, a little at a time.
func followScreen(tm *tmux, said []string) {
	tm.t.Helper()
	for !strings.Contains(tm.screen(), "["+said[1]+"]") {
		tm.keys("Tab")
		time.Sleep(120 * time.Millisecond)
	}
	key := "."
	if said[2] == "anticlockwise" {
		key = ","
	}
	tm.keys(key)
}

// A person who reads the screen and presses the practice keys levels the bank.
func TestScreenLevelsThePracticeEngine(t *testing.T) {
	t.Parallel()
	garage := t.TempDir()
	tm := startTmux(t, 80, 24, garage, "live", "--practice")
	tm.await("Before the start", 5*time.Second)
	tm.keys("z") // straight to work
	tm.await("Zero taken", 10*time.Second)
	tm.keys("e")
	tm.await("settled for", 5*time.Second)
	tm.keys("n", "n") // warm, and the hoses are right
	blip := time.Now()
	for end := time.Now().Add(150 * time.Second); ; time.Sleep(350 * time.Millisecond) {
		text := strings.Join(strings.Fields(tm.screen()), " ")
		if strings.Contains(text, "The bank is level") {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("not level in 150 s:\n%s", tm.screen())
		}
		if strings.Contains(text, "Blip the throttle once") && time.Since(blip) > 8*time.Second {
			tm.keys("b")
			blip = time.Now()
		}
		if said := turnWords.FindStringSubmatch(text); said != nil {
			followScreen(tm, said)
		}
	}
	tm.await("Saved:", 5*time.Second)
	tm.keys("?")
	tm.await("carbon monoxide", 2*time.Second)
	tm.keys("?")
	tm.keys("q")
	if status := tm.ended(3 * time.Second); status != "0" {
		t.Errorf("exit status %s", status)
	}
	if text := tm.screen(); handWords.MatchString(text) {
		t.Errorf("the screen was not given back:\n%s", text)
	}
}

// The terminal is given back when the program is told to end.
func TestSignalsGiveTheTerminalBack(t *testing.T) {
	t.Parallel()
	need(t, "pgrep", "procps")
	for _, signal := range []string{"TERM", "HUP", "INT"} {
		tm := startTmux(t, 100, 30, t.TempDir(), "live", "--practice")
		tm.await("practice engine", 5*time.Second)
		pid := strings.TrimSpace(tm.run("list-panes", "-F", "#{pane_pid}"))
		child, err := exec.Command("pgrep", "-P", pid, "evendraw").Output()
		if err != nil {
			t.Fatalf("pgrep: %v", err)
		}
		if out, err := exec.Command("kill", "-"+signal, strings.TrimSpace(string(child))).CombinedOutput(); err != nil {
			t.Fatalf("kill: %v %s", err, out)
		}
		if status := tm.ended(2 * time.Second); status != "130" {
			t.Errorf("SIG%s: exit status %s, want 130", signal, status)
		}
		stty, err := os.ReadFile(filepath.Join(filepath.Dir(tm.status), "stty"))
		if err != nil || !strings.Contains(string(stty), " echo ") || !strings.Contains(string(stty), " icanon ") {
			t.Errorf("SIG%s: terminal not given back: %v %s", signal, err, stty)
		}
	}
}
