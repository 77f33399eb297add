package main

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
)

// The rows of the fault table that the screen itself must tell.

// onScreen starts the screen on a line that the board function then plays on.
func onScreen(t *testing.T, l *fakeboard.Line, args ...string) *tmux {
	t.Helper()
	return startTmux(t, 80, 24, t.TempDir(), append([]string{"live", "--port", l.Path}, args...)...)
}

// Row 6.
func TestScreenTellsOverflow(t *testing.T) {
	t.Parallel()
	rec := idlingOnce()
	l := fakeboard.NewLine(t)
	tm := onScreen(t, l)
	play(t, l, bytes.NewReader(rec.Overflowing(1500, 30).Overflowing(2500, 7).Bytes()), fakeboard.Pace{Patient: true})
	tm.await("board too slow: 37", 12*time.Second)
	if strings.Contains(tm.screen(), "lost") {
		t.Errorf("taken for a loss:\n%s", tm.screen())
	}
}

// Row 7.
func TestScreenTellsRestart(t *testing.T) {
	t.Parallel()
	rec := idlingOnce()
	l := fakeboard.NewLine(t)
	tm := onScreen(t, l)
	stream := append(rec.Part(0, 3000).Bytes(), fakeboard.BootText...)
	play(t, l, bytes.NewReader(append(stream, rec.Part(4000, 12000).Restarted("0002").Bytes()...)), fakeboard.Pace{Patient: true})
	tm.await("Board restarted: it has no zero.", 12*time.Second)
}

// Row 8.
func TestScreenTellsNoErrorOfOurOwnOpening(t *testing.T) {
	t.Parallel()
	rec := idlingOnce()
	l := fakeboard.NewLine(t)
	begin := time.Now()
	tm := onScreen(t, l)
	l.Send([]byte(fakeboard.BootText))
	for time.Since(begin) < 2*time.Second {
		if s := tm.screen(); strings.Contains(s, "baud or firmware") || strings.Contains(s, "lost") || strings.Contains(s, "vanished") {
			t.Fatalf("an error after %v:\n%s", time.Since(begin), s)
		}
		time.Sleep(100 * time.Millisecond)
	}
	play(t, l, bytes.NewReader(rec.Bytes()), fakeboard.Pace{})
	tm.await("rpm", 4*time.Second)
}

// Row 9.
func TestScreenTellsWrongRate(t *testing.T) {
	t.Parallel()
	rec := idlingOnce()
	l := fakeboard.NewLine(t)
	junk := fakeboard.Resample(rec.Part(0, 6000).Blocks(), 500_000, 250_000, false)
	begin := time.Now()
	tm := onScreen(t, l)
	go func() {
		for ; len(junk) > 512; junk = junk[512:] {
			if _, err := l.Send(junk[:512]); err != nil {
				return
			}
			time.Sleep(40 * time.Millisecond)
		}
	}()
	tm.await("bytes but no valid frames: baud or firmware", 4*time.Second)
	if took := time.Since(begin); took > 2300*time.Millisecond { // the program's two seconds, and what tmux needs
		t.Errorf("said after %v", took)
	}
}

// Row 10.
func TestScreenTellsOtherLayout(t *testing.T) {
	t.Parallel()
	rec := idlingOnce()
	l := fakeboard.NewLine(t)
	tm := onScreen(t, l)
	other := rec.Part(0, 3000)
	other.About = *fakeboard.OtherLayouts("S1", 4)[0]
	play(t, l, bytes.NewReader(other.Bytes()), fakeboard.Pace{})
	tm.await("program 1.4.0", 5*time.Second)
	if status := tm.ended(3 * time.Second); status != "1" {
		t.Errorf("status %s", status)
	}
}

// Row 12.
func TestScreenTellsUnplugged(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	play(t, l, idlingBoard(), fakeboard.Pace{})
	tm := onScreen(t, l)
	tm.await("rpm", 6*time.Second)
	l.Unplug()
	tm.await("board lost", 2*time.Second)
}
