package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// Rows of the fault table in virtual time, to the bound itself.

// Row 6: what the board missed itself is shown as that everywhere, and never as
// lost on the way.
func TestOverflowIsShown(t *testing.T) {
	t.Parallel()
	stream := idlingOnce().Overflowing(2000, 30).Overflowing(3000, 7).Bytes()
	dir := t.TempDir()
	capture := filepath.Join(dir, "c.cap")
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		json := w.begin(t, dir, "live", "--port", c.Path, "--headless", "--json", "--for", "5s", "--capture", capture)
		play(t, c, bytes.NewReader(stream), fakeboard.Pace{})
		if got := json.rest().Link; got.Overflows != 37 || got.Lost != 0 || got.Damaged != 0 {
			t.Errorf("JSON: %+v\n%s", got, tail(json.text()))
		}
	})
	all := lines(t, evendraw(t, dir, "analyse", capture, "--json").out)
	if s := all[len(all)-1].Summary; s == nil || s.Overflows != 37 || s.Lost != 0 {
		t.Errorf("capture: %+v", s)
	}
	if r := evendraw(t, dir, "analyse", capture); !strings.Contains(r.out, "0 lost") ||
		!strings.Contains(r.out, "37 missed by the board") {
		t.Errorf("in words: %s", r.out)
	}
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		plain := w.begin(t, dir, "live", "--port", c.Path, "--headless", "--for", "5s")
		play(t, c, bytes.NewReader(stream), fakeboard.Pace{})
		plain.status()
		if !strings.Contains(plain.text(), "board too slow: 37") {
			t.Errorf("plain lines: %s", plain.text())
		}
	})
	t.Log("count: 37 overflows shown in JSON, lines, words and capture; 0 taken for losses")
}

// Row 8: our opening restarts the board; that is normal, and quick: a reading within four
// seconds, the board having needed two.
func TestRestartByOurOwnOpening(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json")
		c.Send([]byte(fakeboard.BootText))
		time.Sleep(2 * time.Second)
		play(t, c, bytes.NewReader(idlingOnce().Bytes()), fakeboard.Pace{})
		first := r.reading()
		if took := first.at.Sub(r.started); took > 4*time.Second {
			t.Errorf("first reading after %v", took)
		} else {
			t.Logf("first reading %.2f s after the start, the board having needed 2.0 s", took.Seconds())
		}
		if strings.Contains(r.text(), "evendraw:") || first.line.Link.Restarts != 0 {
			t.Errorf("told of a fault: %s", tail(r.text()))
		}
	})
}

// Row 9: at the wrong rate the program says so within two seconds.
func TestWrongRateIsNamed(t *testing.T) {
	t.Parallel()
	blocks := idlingOnce().Part(0, 7000).Blocks()
	for _, pair := range [][2]int{{500_000, 250_000}, {250_000, 1_000_000}, {1_000_000, 500_000}} {
		t.Run(fmt.Sprintf("%d as %d", pair[0], pair[1]), func(t *testing.T) {
			t.Parallel()
			junk := fakeboard.Resample(blocks, pair[0], pair[1], false)
			synctest.Test(t, func(t *testing.T) {
				c, w := onCable()
				r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json", "--baud",
					fmt.Sprint(pair[1]))
				babble(t, c, junk)
				said := r.says("bytes but no valid frames: baud or firmware")
				if took := said.at.Sub(r.started); took > 2*time.Second {
					t.Errorf("said after %v", took)
				}
				if status := r.status(); status != exitNoBoard {
					t.Errorf("status %d", status)
				}
			})
		})
	}
}

// babble sends junk, 512 bytes each 20 ms, until the cable goes.
func babble(t *testing.T, c *fakeboard.Cable, junk []byte) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		for ; len(junk) > 0; time.Sleep(20 * time.Millisecond) {
			n := min(len(junk), 512)
			if _, err := c.Send(junk[:n]); err != nil {
				return
			}
			junk = junk[n:]
		}
	}()
	t.Cleanup(func() {
		c.Unplug()
		<-done
	})
}

// Row 10: a board with another layout is named with both sides' versions, within two seconds.
func TestOtherLayoutIsNamed(t *testing.T) {
	t.Parallel()
	for _, about := range fakeboard.OtherLayouts("S1", 4) {
		t.Run(about.Layout, func(t *testing.T) {
			t.Parallel()
			rec := idlingOnce().Part(0, 3000)
			rec.About = *about
			synctest.Test(t, func(t *testing.T) {
				c, w := onCable()
				r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json")
				play(t, c, bytes.NewReader(rec.Bytes()), fakeboard.Pace{})
				said := r.says("evendraw:")
				for _, word := range []string{"S1", "program 1.4.0", "speaks protocol 1", "this program 1",
					about.Layout, frame.Layout(1)} {
					if !strings.Contains(said.text, word) {
						t.Errorf("%q is not in %q", word, said.text)
					}
				}
				if took := said.at.Sub(r.started); took > 2*time.Second {
					t.Errorf("said after %v", took)
				}
				if status := r.status(); status != exitFailed || strings.Contains(r.text(), "{") {
					t.Errorf("status %d, %s", status, r.text())
				}
			})
		})
	}
}

// stale reports whether a line says that no frames come, and fails the test if it has figures.
func stale(t *testing.T, s *stamped) bool {
	if len(s.line.Cylinders) == 0 || s.line.Cylinders[0].State != "stale" {
		return false
	}
	if s.line.RPM != nil || s.line.Spread != nil || s.line.Advice.Kind != "wait" || s.line.Advice.Why != "no-frames" {
		t.Errorf("a stale line with figures: %s", s.text)
	}
	for _, c := range s.line.Cylinders {
		if c.State != "stale" || c.Draw != nil || c.Difference != nil || c.Uncertainty != nil {
			t.Errorf("cylinder %+v", c)
		}
	}
	return true
}

// Row 11, without a screen: 300 ms after the last frame nothing looks live, and that is said
// once.
func TestSilence(t *testing.T) {
	t.Parallel()
	const points = 10
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json", "--every-cycle")
		board := idlingBoard()
		soonest, latest := time.Hour, time.Duration(0)
		for i := range points {
			end := play(t, c, board, fakeboard.Pace{})
			r.reading()
			time.Sleep(300*time.Millisecond + time.Duration(i)*7*time.Millisecond)
			end()
			silent := time.Now()
			s := r.await(r.out, "a stale line", func(s *stamped) bool { return stale(t, s) })
			took := s.at.Sub(silent)
			soonest, latest = min(soonest, took), max(latest, took)
			time.Sleep(10 * time.Second)
			synctest.Wait()
			if n := len(r.out); n > 0 {
				t.Errorf("%d lines while nothing came: %s", n, (<-r.out).text)
			}
		}
		if latest > 300*time.Millisecond || soonest < 200*time.Millisecond { // the last frame is up to 21 ms older
			t.Errorf("marked stale %v to %v after the end", soonest, latest)
		}
		t.Logf("count: %d silences, marked stale after at most %d ms", points, latest.Milliseconds())
	})
}

// inBubble counts the goroutines of the test's bubble.
func inBubble() int {
	all := make([]byte, 1<<20)
	all = all[:runtime.Stack(all, true)]
	own, _, _ := bytes.Cut(all, []byte("]:")) // our own comes first: goroutine 7 [running, synctest bubble 3]:
	_, bubble, _ := bytes.Cut(own, []byte("synctest "))
	return bytes.Count(all, append(bubble, ']'))
}

// Row 12: the lead is pulled and put back: told within 300 ms, reading again within a second, with no
// goroutine more.
func TestReplugInTime(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		rec := idlingOnce().Part(0, 4000)
		again := func(boot int) func() int {
			return play(t, c, bytes.NewReader(rec.Restarted(fmt.Sprintf("%04X", boot)).Bytes()), fakeboard.Pace{})
		}
		end := again(1)
		r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json", "--every-cycle")
		r.reading()
		goroutines := 0
		for i := range 20 {
			time.Sleep(time.Duration(i) * 13 * time.Millisecond)
			pulled := time.Now()
			c.Unplug()
			end()
			s := r.await(r.out, "a stale line", func(s *stamped) bool { return s.at.After(pulled) && stale(t, s) })
			if took := s.at.Sub(pulled); took > 300*time.Millisecond {
				t.Errorf("noticed after %v", took)
			}
			time.Sleep(time.Duration(i) * 170 * time.Millisecond) // of the 10 s that are waited
			back := time.Now()
			c.Plug()
			end = again(2 + i)
			s = r.await(r.out, "a live line", func(s *stamped) bool { return !stale(t, s) })
			if took := s.at.Sub(back); took > time.Second {
				t.Errorf("reading again after %v", took)
			}
			r.reading()
			synctest.Wait()
			if now := inBubble(); i == 0 {
				goroutines = now
			} else if now > goroutines || now < 3 {
				t.Errorf("%d goroutines, were %d", now, goroutines)
			}
		}
	})
}

// A board that is gone for good: told at once, waited for, and then status 7.
func TestBoardLostForGood(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		play(t, c, idlingBoard(), fakeboard.Pace{})
		r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json")
		r.reading()
		at := time.Now()
		c.Unplug()
		s := r.says("vanished")
		if took := s.at.Sub(at); took > 300*time.Millisecond || !strings.Contains(s.text, "waiting 10 s") {
			t.Errorf("told after %v: %s", took, s.text)
		}
		status := r.status()
		if took := time.Since(s.at); status != exitLost || took < 10*time.Second ||
			took > 10*time.Second+50*time.Millisecond {
			t.Errorf("status %d after %v", status, took)
		}
	})
}

// Row 15: neither the host's clock nor late and batched bytes show in a reading.
func TestArrivalDoesNotCount(t *testing.T) {
	t.Parallel()
	stream := idlingOnce().StartingAt(7, 1<<32-3_000_000).Bytes()
	dir := t.TempDir()
	want := ""
	for i, pace := range []fakeboard.Pace{
		{Clock: 0.99, Batch: 384, Jitter: 20 * time.Millisecond},
		{Clock: 1.01, Batch: 24},
	} {
		capture := filepath.Join(dir, fmt.Sprint(i))
		live, n := "", 0
		synctest.Test(t, func(t *testing.T) {
			c, w := onCable()
			// A garage of its own: the heat of the run before would be gone on with.
			r := w.begin(t, t.TempDir(), "live", "--port", c.Path, "--headless", "--json", "--every-cycle", "--for",
				"5s",
				"--capture", capture)
			play(t, c, bytes.NewReader(stream), pace)
			if last := r.rest(); last.Link.Lost != 0 || last.Link.Damaged != 0 {
				t.Errorf("losses: %+v", last.Link)
			}
			live = strings.Replace(r.text(), stillRuns[1:], "", 1) // the last word, on standard error
			n = strings.Count(live, "\n")
		})
		got := evendraw(t, dir, "analyse", capture, "--json").out
		if !strings.HasPrefix(got, live) || len(live) < 10_000 {
			t.Errorf("live and its capture differ: %s", firstDifference(live, got))
		}
		cut := strings.Join(strings.SplitAfter(got, "\n")[:n-10], "") // the ends differ by a batch
		if want == "" {
			want = cut
		} else if n := min(len(cut), len(want)); withoutLink(cut[:n]) != withoutLink(want[:n]) {
			t.Error("another pace, other readings")
		}
	}
}

// withoutLink leaves out the counters, which a reading takes at the end of a chunk.
func withoutLink(text string) string {
	var out strings.Builder
	for l := range strings.Lines(text) {
		before, after, _ := strings.Cut(l, `"link":{`)
		_, after, _ = strings.Cut(after, "}")
		out.WriteString(before + after)
	}
	return out.String()
}

// A recording ends with the board, and holds what came until then.
func TestRecordingEndsWithTheBoard(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	capture := filepath.Join(dir, "c.cap")
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		play(t, c, idlingBoard(), fakeboard.Pace{})
		r := w.begin(t, dir, "record", "--port", c.Path, capture)
		r.says("recording to")
		time.Sleep(2 * time.Second)
		c.Unplug()
		if status := r.status(); status != exitLost || !strings.Contains(r.text(), "vanished") {
			t.Errorf("status %d: %s", status, r.text())
		}
	})
	all := lines(t, evendraw(t, dir, "analyse", capture, "--json").out)
	if s := all[len(all)-1].Summary; s == nil || s.Frames < 1990 || s.Lost != 0 || s.Damaged != 0 {
		t.Errorf("the capture holds %+v", s)
	}
}

// A board with more channels than an engine has cylinders: the first four are
// read, and the user is told.
func TestMoreThanFourChannels(t *testing.T) {
	t.Parallel()
	rec := fakeboard.Steady("WIDE", 8, 3000)
	path := write(t, filepath.Join(t.TempDir(), "wide.bin"), string(rec.Bytes()))
	r := evendraw(t, t.TempDir(), "analyse", path, "--json")
	got := lines(t, r.out)
	if last := got[len(got)-1]; r.status != 0 || last.Summary == nil || len(last.Summary.Cylinders) != 4 ||
		last.Summary.Frames != 3000 {
		t.Errorf("%d, %s", r.status, tail(r.out))
	}
	if !strings.Contains(r.err, "8 pressure channels") {
		t.Errorf("not told: %q", r.err)
	}
	synctest.Test(t, func(t *testing.T) {
		c, w := onCable()
		live := w.begin(t, t.TempDir(), "live", "--headless", "--json", "--for", "2s", "--port", c.Path)
		play(t, c, bytes.NewReader(rec.Bytes()), fakeboard.Pace{})
		if last := live.rest(); len(last.Cylinders) != 4 || !strings.Contains(live.text(), "8 pressure channels") {
			t.Errorf("%s", tail(live.text()))
		}
	})
}
