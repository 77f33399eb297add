package main

// Rows 13 and 14 of the fault table and the errors of a port, on the program
// itself.

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
)

// Row 13: a second program on the port is refused, and the first loses nothing.
func TestTwoProgramsOnePort(t *testing.T) {
	t.Parallel()
	refused := 0
	for name, uid := range users() {
		l := fakeboard.NewLine(t)
		l.LetIn(t)
		first := start(t, uid, "live", "--port", l.Path, "--headless", "--json")
		play(t, l, idlingBoard(), fakeboard.Pace{})
		first.reading(8 * time.Second)
		for other, otherUID := range users() {
			second := start(t, otherUID, "live", "--port", l.Path, "--headless", "--json")
			status := second.status(3 * time.Second)
			took := time.Since(second.started)
			if status != exitBusy || took > 500*time.Millisecond || !strings.Contains(second.text(), fmt.Sprint(first.cmd.Process.Pid)) {
				t.Errorf("first %s, second %s: status %d after %v, want %d and process %d: %s", name, other, status, took, exitBusy, first.cmd.Process.Pid, second.text())
			}
			refused++
		}
		if link := first.reading(2 * time.Second).line.Link; link.Lost != 0 || link.Damaged != 0 || link.Restarts != 0 {
			t.Errorf("the first, as %s, lost frames: %+v", name, link)
		}
		first.cmd.Process.Kill()
		<-first.ended
		heir := start(t, uid, "live", "--port", l.Path, "--headless", "--json")
		heir.reading(5 * time.Second)
	}
	t.Logf("count: %d second programs refused, and after a kill -9 of the first none", refused)
}

// Row 14: another program's junk on the port, and a port that goes away, name
// the usual suspects.
func TestGrabbedPort(t *testing.T) {
	t.Parallel()
	suspects := func(r *running) {
		t.Helper()
		for _, name := range []string{"ModemManager", "brltty"} {
			if !strings.Contains(r.text(), name) {
				t.Errorf("%s is not named: %s", name, r.text())
			}
		}
	}
	l := fakeboard.NewLine(t)
	l.Echo()
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--baud", "500000")
	if status := r.status(10 * time.Second); status != exitNoBoard || !strings.Contains(r.text(), "bytes but no valid frames") {
		t.Errorf("junk: status %d, %s", status, r.text())
	}
	suspects(r)
	l = fakeboard.NewLine(t)
	r = start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json")
	time.Sleep(500 * time.Millisecond)
	l.Unplug()
	if status := r.status(3 * time.Second); status != exitLost || !strings.Contains(r.text(), "vanished") {
		t.Errorf("gone while waiting: status %d, %s", status, r.text())
	}
	suspects(r)
}

// A board that is gone for good: told at once, waited for, and then status 7.
func TestBoardLostForGood(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	socket := fakeboard.Socket{Path: filepath.Join(t.TempDir(), "board")} // the number of a pty may be another's soon
	if err := socket.Plug(l); err != nil {
		t.Fatal(err)
	}
	play(t, l, idlingBoard(), fakeboard.Pace{})
	r := start(t, os.Getuid(), "live", "--port", socket.Path, "--headless", "--json")
	r.reading(8 * time.Second)
	socket.Empty()
	at := time.Now()
	l.Unplug()
	s := r.await(r.err, "a word on the loss", 2*time.Second, func(s *stamped) bool { return strings.Contains(s.text, "vanished") })
	if took := s.at.Sub(at); took > 300*time.Millisecond || !strings.Contains(s.text, "waiting 10 s") {
		t.Errorf("told after %v: %s", took, s.text)
	}
	if status := r.status(headlessReturn + 3*time.Second); status != exitLost {
		t.Errorf("status %d", status)
	}
}

// A recording ends with the board, and holds what came until then.
func TestRecordingEndsWithTheBoard(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	capture := filepath.Join(t.TempDir(), "c.cap")
	play(t, l, idlingBoard(), fakeboard.Pace{})
	r := start(t, os.Getuid(), "record", "--port", l.Path, capture)
	r.await(r.err, "the beginning", 5*time.Second, func(s *stamped) bool { return strings.Contains(s.text, "recording to") })
	time.Sleep(2 * time.Second)
	l.Unplug()
	if status := r.status(3 * time.Second); status != exitLost || !strings.Contains(r.text(), "vanished") {
		t.Errorf("status %d: %s", status, r.text())
	}
	all := lines(t, evendraw(t, t.TempDir(), "analyse", capture, "--json").out)
	if s := all[len(all)-1].Summary; s == nil || s.Frames < 1500 || s.Lost != 0 || s.Damaged != 0 {
		t.Errorf("the capture holds %+v", s)
	}
}

// The port errors, each with its cure, as the users who meet them see them.
func TestPortErrorsNameTheCure(t *testing.T) {
	t.Parallel()
	file := filepath.Join(filepath.Dir(public()), "no-port")
	if err := os.WriteFile(file, []byte("x"), 0o666); err != nil || os.Chmod(file, 0o666) != nil {
		t.Fatal(err)
	}
	shut := fakeboard.NewLine(t)
	if err := os.Chmod(shut.Path, 0o600); err != nil {
		t.Fatal(err)
	}
	for name, uid := range users() {
		for _, c := range []struct {
			path   string
			status int
			words  []string
		}{
			{"/dev/pts/99999", exitNoBoard, []string{"no such port", "lead"}},
			{file, exitFailed, []string{"not a serial port", "/dev/ttyUSB0"}},
			{"/dev/null", exitFailed, []string{"not a serial port"}},
			{shut.Path, exitDenied, []string{"permission denied", "chmod"}},
		} {
			if c.status == exitDenied && uid == 0 {
				continue
			}
			r := start(t, uid, "live", "--headless", "--json", "--port", c.path)
			status := r.status(3 * time.Second)
			for _, w := range append(c.words, "hint:") {
				if !strings.Contains(r.text(), w) {
					t.Errorf("%s as %s: %q is not in %s", c.path, name, w, r.text())
				}
			}
			if status != c.status {
				t.Errorf("%s as %s: status %d, want %d: %s", c.path, name, status, c.status, r.text())
			}
		}
	}
}

// The cure for a denied port, joined by an ordinary user, works: with the port's
// group among one's own it opens, without it does not.
func TestJoiningTheGroupLetsIn(t *testing.T) {
	t.Parallel()
	if os.Getuid() != 0 {
		t.Skip("changing the user needs root")
	}
	const dialout = 20 // on most systems; the test joins it by number
	l := fakeboard.NewLine(t)
	if err := errors.Join(os.Chown(l.Path, 0, dialout), os.Chmod(l.Path, 0o660)); err != nil {
		t.Fatal(err)
	}
	play(t, l, idlingBoard(), fakeboard.Pace{})
	outside := start(t, nobody, "live", "--headless", "--json", "--port", l.Path)
	if status := outside.status(3 * time.Second); status != exitDenied || !strings.Contains(outside.text(), "sudo usermod -aG ") {
		t.Errorf("without the group: status %d, %s", status, outside.text())
	}
	startIn(t, nobody, []uint32{dialout}, "live", "--headless", "--json", "--port", l.Path).reading(8 * time.Second)
}

// A board with more channels than an engine has cylinders: the first four are
// read, and the user is told.
func TestMoreThanFourChannels(t *testing.T) {
	t.Parallel()
	rec := fakeboard.Steady("WIDE", 8, 3000)
	path := filepath.Join(t.TempDir(), "wide.bin")
	if err := os.WriteFile(path, rec.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	r := evendraw(t, t.TempDir(), "analyse", path, "--json")
	got := lines(t, r.out)
	if last := got[len(got)-1]; r.status != 0 || last.Summary == nil || len(last.Summary.Cylinders) != 4 || last.Summary.Frames != 3000 {
		t.Errorf("%d, %s", r.status, tail(r.out))
	}
	if !strings.Contains(r.err, "8 pressure channels") {
		t.Errorf("not told: %q", r.err)
	}
	l := fakeboard.NewLine(t)
	live := start(t, os.Getuid(), "live", "--headless", "--json", "--for", "2s", "--port", l.Path)
	play(t, l, bytes.NewReader(rec.Bytes()), fakeboard.Pace{Patient: true})
	if last := live.rest(10 * time.Second); len(last.Cylinders) != 4 || !strings.Contains(live.text(), "8 pressure channels") {
		t.Errorf("%s", tail(live.text()))
	}
}
