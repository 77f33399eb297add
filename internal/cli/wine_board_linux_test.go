package cli

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
)

// Boards on Wine's serial ports.

// onPort plugs a board's line into a Windows of the test's own, as such a port.
func (w windows) onPort(t *testing.T, port string) *fakeboard.Line {
	t.Helper()
	l := fakeboard.NewLine(t)
	if err := w.Plug(port, l.Path); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Unplug(port) })
	return l
}

// A board on a COM port is read without a loss, also above COM9, is unplugged and comes back, and is lost.
func TestWindowsPort(t *testing.T) {
	t.Parallel()
	w := onWindows(t)
	const port = "COM12"
	l := w.onPort(t, port)
	rec := named(idlingOnce())
	begin := func(l *fakeboard.Line, boot int) (end func() int) {
		return play(t, l, bytes.NewReader(rec.Restarted(fmt.Sprintf("%04X", boot)).Bytes()), patient)
	}
	end := begin(l, 1)
	r := w.start(t, t.TempDir(), "live", "--port", port, "--headless", "--json")
	if link := r.reading().line.Link; link.Lost != 0 || link.Damaged != 0 {
		t.Errorf("%+v", link)
	}
	for i := range 3 {
		next := fakeboard.NewLine(t)
		w.Unplug(port)
		l.Unplug()
		end()
		r.says("vanished")
		l = next
		if err := w.Plug(port, l.Path); err != nil {
			t.Fatal(err)
		}
		end = begin(l, 2+i)
		r.await(r.out, "a reading of the new run", func(s *stamped) bool {
			return s.line.Link.Restarts == i+1 && !stale(t, s)
		})
	}
}

// A port on which nothing comes holds no verb up, though Wine keeps no time-out.
func TestWindowsSilentPort(t *testing.T) {
	t.Parallel()
	w := onWindows(t)
	w.onPort(t, "COM8")
	for _, c := range []struct {
		status int
		words  string
		args   []string
	}{
		{exitNoBoard, "no bytes at all", []string{"board", "check"}},
		{exitNoBoard, "no bytes at all", []string{"live", "--headless"}},
		{exitNoBoard, "no bytes at all", []string{"zero"}},
		{exitNoLoader, "no boot loader answers", []string{"board", "setup"}}, // which looks for one on a silent port
	} {
		r := w.finished(t, t.TempDir(), append(c.args, "--port", "COM8", "--baud", "500000")...)
		if r.status != c.status || !strings.Contains(r.err, c.words) {
			t.Errorf("%v: status %d: %s", c.args, r.status, r.err)
		}
	}
}

// A board's bytes are checked there as here, and what is no board's is named.
func TestWindowsBoardCheck(t *testing.T) {
	t.Parallel()
	w := onWindows(t)
	play(t, w.onPort(t, "COM6"), idlingBoard(), patient)
	if r := w.finished(t, t.TempDir(), "board", "check", "--port", "COM6"); r.status != 0 ||
		!strings.Contains(r.out, "0 lost") {
		t.Errorf("status %d: %s%s", r.status, r.out, r.err)
	}
	other := w.onPort(t, "COM5")
	go func() { // as fast as may be: Wine hands bytes on when a whole buffer of them is there
		for junk := bytes.Repeat([]byte("AT+GCAP\r\n"), 1000); ; {
			if _, err := other.Write(junk); err != nil {
				return
			}
		}
	}()
	r := w.finished(t, t.TempDir(), "live", "--port", "COM5", "--headless", "--baud", "500000")
	if r.status != exitNoBoard || !strings.Contains(r.err, "bytes but no valid frames") ||
		strings.Contains(r.err, "sudo") {
		t.Errorf("status %d: %s", r.status, r.err)
	}
}

// Ports are listed in order from the registry, without being opened: none of these is there.
func TestWindowsPortsAreListed(t *testing.T) { // alone: the list is that of all tests
	w := onWindows(t)
	if err := w.List("COM10", "COM9", "COM3"); err != nil {
		t.Fatal(err)
	}
	defer w.List()
	r := w.finished(t, t.TempDir(), "board", "list")
	if got := strings.Join(strings.Fields(r.out), " "); got != "COM3 COM9 COM10" {
		t.Errorf("status %d: %s%s", r.status, r.out, r.err)
	}
}

// From a board without a card to a card with hoses and zero: the dialogue over a COM port.
func TestWindowsBoardSetup(t *testing.T) {
	t.Parallel()
	w := onWindows(t)
	b := bank.Default(4)
	b.Channels = []int{2, 0, 3, 1}
	e := engine.New(engine.Config{Bank: b, Seed: 6})
	play(t, w.onPort(t, "COM4"), e, patient)
	garage := t.TempDir()
	cmd := w.command(garage, "board", "setup", "--port", "COM4")
	typed, err1 := cmd.StdinPipe()
	asked, err2 := cmd.StdoutPipe()
	if err := errors.Join(err1, err2, cmd.Start()); err != nil {
		t.Fatal(err)
	}
	said := answerSetup(e, asked, typed)
	if err := cmd.Wait(); err != nil {
		t.Errorf("%v: %s", err, said)
	}
	if r := evendraw(t, garage, "board", "show", "PRACTICE"); r.status != 0 || !strings.Contains(said, "Hose 4") {
		t.Errorf("%+v\n%s", r, said)
	}
}

// A capture ends with its board, whole, and the status says so.
func TestWindowsBoardLost(t *testing.T) {
	t.Parallel()
	w := onWindows(t)
	l := w.onPort(t, "COM3")
	play(t, l, idlingBoard(), patient)
	capture := filepath.Join(t.TempDir(), "c.cap")
	r := w.start(t, t.TempDir(), "record", "--port", "COM3", "Z:"+capture)
	r.says("recording to")
	eventually(t, "some seconds are on the disk", func() bool {
		info, err := os.Stat(capture)
		return err == nil && info.Size() > 50_000
	})
	w.Unplug("COM3")
	l.Unplug()
	if status := r.status(); status != exitLost || !strings.Contains(r.text(), "vanished") {
		t.Errorf("status %d: %s", status, r.text())
	}
	all := lines(t, evendraw(t, t.TempDir(), "analyse", capture, "--json").out)
	if s := all[len(all)-1].Summary; s == nil || s.Frames < 1000 || s.Lost != 0 || s.Damaged != 0 {
		t.Errorf("the capture holds %+v", s)
	}
}
