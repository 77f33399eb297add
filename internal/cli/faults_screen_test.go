package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/plain"
)

// The rows of the fault table that the screen itself must tell, in virtual time.

// onScreen runs the program on a screen of 80x24, over a cable, and gives the rest of the test
// all three.
func onScreen(t *testing.T, test func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running), args ...string) {
	t.Helper()
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		s := newCanvasScreen(80, 24)
		w.Display = s.open
		test(t, c, s, w.begin(t, t.TempDir(), append([]string{"live", "--port", c.Path}, args...)...))
	})
}

// Row 6.
func TestScreenTellsOverflow(t *testing.T) {
	stream := idlingOnce().Overflowing(1500, 30).Overflowing(2500, 7).Bytes()
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, _ *running) {
		play(t, c, bytes.NewReader(stream), fakeboard.Pace{})
		s.await(t, "board too slow: 37")
		if strings.Contains(s.picture(), "lost") {
			t.Errorf("taken for a loss:\n%s", s.picture())
		}
	})
}

// Row 18: a disk that fills in mid-run is told for as long as it is full, with another folder for the records.
func TestScreenOffersAnotherFolder(t *testing.T) {
	t.Parallel()
	dir, spare := t.TempDir(), t.TempDir()
	var full atomic.Bool
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		s := newCanvasScreen(80, 24)
		w.Display, w.Spare = s.open, []string{dir, spare}
		w.Room = func(in string) error {
			if full.Load() && !strings.HasPrefix(in, spare) {
				return syscall.ENOSPC
			}
			return nil
		}
		w.begin(t, dir, "live", "--port", c.Path, "--at", "level")
		play(t, c, idlingBoard(), fakeboard.Pace{})
		s.awaitMatch(t, speed)
		full.Store(true)
		time.Sleep(31 * time.Second)
		if !strings.Contains(s.picture(), "Not kept (d: another folder)") {
			t.Fatalf("not told:\n%s", s.picture())
		}
		time.Sleep(effort.Of(5*time.Second, time.Minute))
		s.await(t, "Not kept")
		s.press("d", "enter")
		s.await(t, "Records go to") // a long path stands in a row of its own
		s.press("s")
		s.await(t, "Saved: ")
		time.Sleep(effort.Of(5*time.Second, time.Minute))
		if strings.Contains(s.picture(), "Not kept") {
			t.Errorf("still told:\n%s", s.picture())
		}
	})
	if saved, _ := filepath.Glob(filepath.Join(spare, "*", "bikes", "*", "syncs", "*.level")); len(saved) != 1 {
		t.Errorf("records %q", saved)
	}
}

// A remark that is in no record yet is not lost where the screen is left without saving; one that was given with the
// run is no reason to keep anything.
func TestARemarkIsNotLost(t *testing.T) {
	for _, c := range []struct{ typed, kept string }{{kept: ""}, {"x", "\"note\":\"x\""}} {
		t.Run(c.typed, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			synctest.Test(t, func(t *testing.T) {
				cable, w := onCable()
				s := newCanvasScreen(80, 24)
				w.Display = s.open
				r := w.begin(t, dir, "live", "--port", cable.Path, "--at", "level", "--note", "given")
				play(t, cable, idlingBoard(), fakeboard.Pace{})
				s.awaitMatch(t, speed)
				time.Sleep(3 * time.Second) // a reading of every cylinder
				if c.typed != "" {
					s.press("m", "backspace", "backspace", "backspace", "backspace", "backspace", c.typed, "enter")
				}
				time.Sleep(time.Second)
				s.press("q")
				<-r.ended
			})
			kept, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "syncs", "*.level"))
			if len(kept) != strings.Count(c.kept, "note") {
				t.Fatalf("kept %q", kept)
			}
			for _, path := range kept {
				if text, _ := os.ReadFile(path); !strings.Contains(strings.ReplaceAll(string(text), " ", ""), c.kept) {
					t.Errorf("%s", text)
				}
			}
		})
	}
}

// Row 7: told at once when the first frame of the new run has come.
func TestScreenTellsRestart(t *testing.T) {
	rec := idlingOnce()
	before, after := append(rec.Part(0, 3000).Bytes(), fakeboard.BootText...), rec.Part(4000,
		12000).Restarted("0002").Bytes()
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, _ *running) {
		c.Play(t.Context(), bytes.NewReader(before), fakeboard.Pace{})
		time.Sleep(2 * time.Second) // its boot loader
		begun := time.Now()
		play(t, c, bytes.NewReader(after), fakeboard.Pace{})
		if took := s.await(t, "Board restarted: it has no zero.").Sub(begun); took > 200*time.Millisecond {
			t.Errorf("told after %v", took)
		}
	})
}

// Row 8: no fault is told while the board starts anew by our own opening.
func TestScreenTellsNoErrorOfOurOwnOpening(t *testing.T) {
	stream := idlingOnce().Bytes()
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running) {
		c.Send([]byte(fakeboard.BootText))
		fault := func() {
			if p := s.picture(); strings.Contains(p, "baud or firmware") || strings.Contains(p, "lost") ||
				strings.Contains(p, "vanished") {
				t.Fatalf("an error after %v:\n%s", time.Since(r.started), p)
			}
			time.Sleep(20 * time.Millisecond)
		}
		for time.Since(r.started) < 2*time.Second {
			fault()
		}
		play(t, c, bytes.NewReader(stream), fakeboard.Pace{})
		for time.Since(r.started) < 3*time.Second {
			fault()
		}
		if took := s.awaitMatch(t, speed).Sub(r.started); took > 4*time.Second {
			t.Errorf("a speed after %v", took)
		}
	})
}

// Row 9: said within two seconds.
func TestScreenTellsWrongRate(t *testing.T) {
	junk := fakeboard.Resample(idlingOnce().Part(0, 6000).Blocks(), 500_000, 250_000, false)
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running) {
		babble(t, c, junk)
		if took := s.await(t, "bytes but no valid frames: baud or firmware").Sub(r.started); took > 2*time.Second {
			t.Errorf("said after %v", took)
		}
	})
}

// Row 10.
func TestScreenTellsOtherLayout(t *testing.T) {
	other := idlingOnce().Part(0, 3000)
	other.About = *fakeboard.OtherLayouts("S1", 4)[0]
	stream := other.Bytes()
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running) {
		play(t, c, bytes.NewReader(stream), fakeboard.Pace{})
		if status := r.status(); status != exitFailed || !strings.Contains(r.text(), "program 1.4.0") {
			t.Errorf("status %d, %s", status, r.text())
		}
	})
}

// Rows 11 and 12: what is old is gone within a second, and the loss is told.
func TestScreenTellsUnplugged(t *testing.T) {
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, _ *running) {
		play(t, c, idlingBoard(), fakeboard.Pace{})
		s.awaitMatch(t, speed)
		c.Unplug()
		pulled := time.Now()
		if took := s.await(t, "board lost").Sub(pulled); took > 300*time.Millisecond {
			t.Errorf("told after %v", took)
		}
	})
}

// A key is answered by the next picture, before any time has passed, and the terminal is left
// at once.
func TestKeysAreAnsweredAtOnce(t *testing.T) {
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running) {
		play(t, c, idlingBoard(), fakeboard.Pace{})
		s.awaitMatch(t, speed)
		time.Sleep(7 * time.Millisecond) // between two pictures
		begun := time.Now()
		s.press("?")
		if !strings.Contains(s.picture(), "carbon monoxide") || time.Since(begun) != 0 {
			t.Errorf("after %v:\n%s", time.Since(begun), s.picture())
		}
		s.press("?", "q")
		if status := r.status(); status != 0 || time.Since(begun) > 700*time.Millisecond {
			t.Errorf("status %d after %v", status, time.Since(begun))
		}
	})
}

// A terminal that is gone ends the program.
func TestAGoneTerminalEndsTheProgram(t *testing.T) {
	onScreen(t, func(t *testing.T, c *fakeboard.Cable, s *canvasScreen, r *running) {
		s.await(t, "1/13")
		close(s.gone)
		if status := r.status(); status != exitFailed || time.Since(r.started) > effort.Hang {
			t.Errorf("status %d", status)
		}
	})
}

// What a capture's head calls the bike and its screws is shown as letters alone.
func TestScreenShowsLettersAlone(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	b := bank.Default(4)
	for i, name := range []string{"\u202ea\x1b[2J", "\u2066b\u009b1m", "c\u200f\a"} {
		b.Screws[i].Name = name
	}
	screws, err := json.Marshal(b)
	if err != nil {
		t.Fatal(err)
	}
	head := "# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: zero\n# bike: ab\u202ecd\u009b31m\n# bank: " +
		string(screws) + "\n#\n"
	capture := write(t, filepath.Join(dir, "c.cap"), head+string(idlingOnce().Bytes()))
	synctest.Test(t, func(t *testing.T) {
		s := newCanvasScreen(100, 30)
		r := world{Display: s.open}.begin(t, dir, "replay", capture)
		for _, page := range []string{"", "w", "r", "?", "a"} {
			time.Sleep(2 * time.Second)
			if page != "" {
				s.press(page)
			}
			if p := strings.ReplaceAll(s.picture(), "\n", ""); strings.ContainsFunc(p, plain.Steers) {
				t.Errorf("page %q: %q", page, p)
			}
		}
		s.press("a")
		s.await(t, "ab.cd")
		s.press("s")
		s.await(t, "nothing can be zeroed, saved or changed")
		s.press("q")
		r.status()
	})
}

// Who leaves a job in the middle is told where the next start goes on, and by when; it does.
func TestLeavingTellsThePlace(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		for _, more := range [][]string{{"--at", "zero"}, nil} {
			s := newCanvasScreen(80, 24)
			w.Display = s.open
			r := w.begin(t, dir, append([]string{"live", "--port", c.Path}, more...)...)
			if more != nil {
				s.await(t, "Zero the sensors")
				s.press("n")
			}
			s.await(t, "Compare the sensors")
			s.press("q")
			r.says(`left at "Compare the sensors"; started again by `)
			if status := r.status(); status != 0 {
				t.Errorf("status %d", status)
			}
		}
	})
}

// Where a run has no step that warms the engine up, it is told that a warm one is levelled; where it has, not.
func TestAColdEngineIsToWarmUp(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		for at, told := range map[string]bool{"level": true, "pilots": true, "zero": false, "keep": false} {
			s := newCanvasScreen(80, 24)
			w.Display = s.open
			r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--at", at)
			time.Sleep(time.Second)
			if got := strings.Contains(s.picture(), "as warm as after a ride"); got != told {
				t.Errorf("at %s: told is %v\n%s", at, got, s.picture())
			}
			s.press("q")
			if told && !strings.Contains(r.says("left at").text, "started again") {
				t.Errorf("at %s: the place is not kept", at)
			}
			r.status()
		}
		w.Display = nil
		r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless")
		play(t, c, idlingBoard(), fakeboard.Pace{})
		r.says("as warm as after a ride")
	})
}
