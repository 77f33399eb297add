package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// The rows of the fault table that need the program itself, on a pty.

// Row 6: what the board missed itself is shown as that everywhere, and never as
// lost on the way.
func TestOverflowIsShown(t *testing.T) {
	t.Parallel()
	stream := idlingOnce().Overflowing(2000, 30).Overflowing(3000, 7).Bytes()
	dir := t.TempDir()
	capture := filepath.Join(dir, "c.cap")
	l := fakeboard.NewLine(t)
	json := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--for", "5s", "--capture", capture)
	play(t, l, bytes.NewReader(stream), fakeboard.Pace{Patient: true})
	if got := json.rest(15 * time.Second).Link; got.Overflows != 37 || got.Lost != 0 || got.Damaged != 0 {
		t.Errorf("JSON: %+v\n%s", got, tail(json.text()))
	}
	all := lines(t, evendraw(t, dir, "analyse", capture, "--json").out)
	if s := all[len(all)-1].Summary; s == nil || s.Overflows != 37 || s.Lost != 0 {
		t.Errorf("capture: %+v", s)
	}
	if r := evendraw(t, dir, "analyse", capture); !strings.Contains(r.out, "0 lost") || !strings.Contains(r.out, "37 missed by the board") {
		t.Errorf("in words: %s", r.out)
	}
	again := fakeboard.NewLine(t)
	plain := start(t, os.Getuid(), "live", "--port", again.Path, "--headless", "--for", "5s")
	play(t, again, bytes.NewReader(stream), fakeboard.Pace{Patient: true})
	plain.status(15 * time.Second)
	if !strings.Contains(plain.text(), "board too slow: 37") {
		t.Errorf("plain lines: %s", plain.text())
	}
	t.Log("count: 37 overflows shown in JSON, lines, words and capture; 0 taken for losses")
}

// Row 8: our opening restarts the board; that is normal, and quick.
func TestRestartByOurOwnOpening(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json")
	l.Send([]byte(fakeboard.BootText))
	time.Sleep(2*time.Second - time.Since(r.started))
	play(t, l, bytes.NewReader(idlingOnce().Bytes()), fakeboard.Pace{})
	first := r.reading(8 * time.Second)
	if took := first.at.Sub(r.started); took > 4*time.Second {
		t.Errorf("first reading after %v", took)
	} else {
		t.Logf("first reading %.1f s after the start, the board having needed 2.0 s", took.Seconds())
	}
	if strings.Contains(r.text(), "evendraw:") || first.line.Link.Restarts != 0 {
		t.Errorf("told of a fault: %s", tail(r.text()))
	}
}

// Row 9: at the wrong rate the program says so within two seconds.
func TestWrongRateIsNamed(t *testing.T) {
	t.Parallel()
	blocks := idlingOnce().Part(0, 7000).Blocks()
	for _, pair := range [][2]int{{500_000, 250_000}, {250_000, 1_000_000}, {1_000_000, 500_000}} {
		t.Run(fmt.Sprintf("%d as %d", pair[0], pair[1]), func(t *testing.T) {
			t.Parallel()
			l := fakeboard.NewLine(t)
			r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--baud", fmt.Sprint(pair[1]))
			junk := fakeboard.Resample(blocks, pair[0], pair[1], false)
			go func() {
				for len(junk) > 0 {
					n := min(len(junk), 512)
					if _, err := l.Send(junk[:n]); err != nil {
						return
					}
					junk = junk[n:]
					time.Sleep(20 * time.Millisecond)
				}
			}()
			said := r.await(r.err, "a word on the rate", 4*time.Second, func(s *stamped) bool {
				return strings.Contains(s.text, "bytes but no valid frames: baud or firmware")
			})
			if took := said.at.Sub(r.started); took > 2*time.Second {
				t.Errorf("said after %v", took)
			}
			if status := r.status(10 * time.Second); status != exitNoBoard {
				t.Errorf("status %d", status)
			}
		})
	}
}

// Row 10: a board with another layout is named with both sides' versions.
func TestOtherLayoutIsNamed(t *testing.T) {
	t.Parallel()
	for _, about := range fakeboard.OtherLayouts("S1", 4) {
		l := fakeboard.NewLine(t)
		r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json")
		rec := idlingOnce().Part(0, 3000)
		rec.About = *about
		play(t, l, bytes.NewReader(rec.Bytes()), fakeboard.Pace{})
		said := r.await(r.err, "a word on the layout", 4*time.Second, func(s *stamped) bool { return strings.Contains(s.text, "evendraw:") })
		for _, word := range []string{"S1", "program 1.4.0", "speaks protocol 1", "this program 1", about.Layout, frame.Layout(1)} {
			if !strings.Contains(said.text, word) {
				t.Errorf("%q is not in %q", word, said.text)
			}
		}
		if took := said.at.Sub(r.started); took > 2*time.Second {
			t.Errorf("said after %v", took)
		}
		if status := r.status(time.Second); status != exitFailed || strings.Contains(r.text(), "{") {
			t.Errorf("status %d, %s", status, r.text())
		}
	}
}

// Row 11, without a screen: 300 ms after the last frame nothing looks live.
func TestSilence(t *testing.T) {
	t.Parallel()
	const points = 10
	l := fakeboard.NewLine(t)
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--every-cycle")
	board := idlingBoard()
	longest := time.Duration(0)
	for range points {
		end := play(t, l, board, fakeboard.Pace{})
		r.reading(10 * time.Second)
		time.Sleep(300 * time.Millisecond)
		end()
		silent := time.Now()
		s := r.await(r.out, "a stale line", 2*time.Second, func(s *stamped) bool { return len(s.line.Cylinders) > 0 && s.line.Cylinders[0].State == "stale" })
		took := s.at.Sub(silent)
		longest = max(longest, took)
		if took > 300*time.Millisecond {
			t.Errorf("marked stale after %v", took)
		}
		if s.line.RPM != nil || s.line.Spread != nil || s.line.Advice.Kind != "wait" || s.line.Advice.Why != "no-frames" {
			t.Errorf("a stale line with figures: %s", s.text)
		}
		for _, c := range s.line.Cylinders {
			if c.State != "stale" || c.Draw != nil || c.Difference != nil || c.Uncertainty != nil {
				t.Errorf("cylinder %+v", c)
			}
		}
		select {
		case more := <-r.out:
			t.Errorf("said while nothing came: %s", more.text)
		case <-time.After(100 * time.Millisecond):
		}
	}
	t.Logf("count: %d silences, marked stale after at most %d ms", points, longest.Milliseconds())
}

// Row 12: the lead is pulled and put back, the port having another number each
// time.
func TestReplug(t *testing.T) {
	t.Parallel()
	cycles := 10
	if all() {
		cycles = 200
	}
	socket := fakeboard.Socket{Path: filepath.Join(t.TempDir(), "board")}
	l := fakeboard.NewLine(t)
	rec := idlingOnce().Part(0, 4000)
	plug := func(l *fakeboard.Line, boot int) func() int {
		if err := socket.Plug(l); err != nil {
			t.Fatal(err)
		}
		return play(t, l, bytes.NewReader(rec.Restarted(fmt.Sprintf("%04X", boot)).Bytes()), fakeboard.Pace{})
	}
	end := plug(l, 1)
	r := start(t, os.Getuid(), "live", "--port", socket.Path, "--headless", "--json", "--every-cycle")
	r.reading(10 * time.Second)
	var lost, back time.Duration
	var files, kilobytes int
	for i := range cycles {
		next := fakeboard.NewLine(t) // before the old one goes, so that it gets another number
		socket.Empty()
		at := time.Now()
		l.Unplug()
		end()
		s := r.await(r.out, "a stale line", 2*time.Second, func(s *stamped) bool { return s.at.After(at) && s.line.Cylinders[0].State == "stale" })
		lost = max(lost, s.at.Sub(at))
		l = next
		at = time.Now()
		end = plug(l, 2+i)
		s = r.await(r.out, "a live line", 5*time.Second, func(s *stamped) bool { return s.line.Cylinders[0].State != "stale" })
		back = max(back, s.at.Sub(at))
		r.reading(5 * time.Second)
		if i == min(cycles/2, 9) {
			files, kilobytes = r.usage()
		}
	}
	nowFiles, nowKilobytes := r.usage()
	if lost > 300*time.Millisecond || back > time.Second {
		t.Errorf("noticed after %v, reading again after %v", lost, back)
	}
	if nowFiles > files || nowKilobytes > kilobytes+5000 {
		t.Errorf("%d files and %d kB in use, were %d and %d", nowFiles, nowKilobytes, files, kilobytes)
	}
	t.Logf("count: %d times unplugged and plugged in again, noticed after at most %d ms, reading again after at most %d ms", cycles, lost.Milliseconds(), back.Milliseconds())
}

// usage is the number of open files and the memory in use, in kB.
func (r *running) usage() (files, kilobytes int) {
	r.t.Helper()
	dir := fmt.Sprintf("/proc/%d/", r.cmd.Process.Pid)
	entries, err := os.ReadDir(dir + "fd")
	if err != nil {
		r.t.Fatal(err)
	}
	status, err := os.ReadFile(dir + "status")
	if err != nil {
		r.t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(status), "VmRSS:")
	fmt.Sscan(after, &kilobytes)
	return len(entries), kilobytes
}

// Row 15: neither the host's clock nor late and batched bytes show in a reading.
func TestArrivalDoesNotCount(t *testing.T) {
	t.Parallel()
	stream := idlingOnce().StartingAt(7, 1<<32-3_000_000).Bytes()
	dir := t.TempDir()
	want := ""
	for i, pace := range []fakeboard.Pace{
		{Clock: 0.99, Batch: 384, Jitter: 20 * time.Millisecond, Patient: true},
		{Clock: 1.01, Batch: 24, Patient: true},
	} {
		capture := filepath.Join(dir, fmt.Sprint(i))
		l := fakeboard.NewLine(t)
		r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--every-cycle", "--for", "5s", "--capture", capture)
		play(t, l, bytes.NewReader(stream), pace)
		r.status(20 * time.Second)
		got := evendraw(t, dir, "analyse", capture, "--json").out
		if live := withoutStale(r.text()); !strings.HasPrefix(got, live) || len(live) < 10_000 {
			t.Errorf("live and its capture differ: %s", tail(live))
		}
		n := 0
		for s := range r.out {
			if s.line.Advice.Why == "no-frames" {
				continue
			}
			n++
			if s.line.Link.Lost != 0 || s.line.Link.Damaged != 0 {
				t.Fatalf("losses: %s", s.text)
			}
		}
		cut := strings.Join(strings.SplitAfter(got, "\n")[:n-10], "") // the ends differ by a batch
		if want == "" {
			want = cut
		} else if n := min(len(cut), len(want)); withoutLink(cut[:n]) != withoutLink(want[:n]) {
			t.Error("another pace, other readings")
		}
	}
}

// withoutStale leaves out the lines of a reader that was kept waiting by a busy machine.
func withoutStale(text string) string {
	var out strings.Builder
	for l := range strings.Lines(text) {
		if !strings.Contains(l, `"state":"stale"`) {
			out.WriteString(l)
		}
	}
	return out.String()
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

// Row 16: the laptop sleeps while the board talks on.
func TestLaptopSleeps(t *testing.T) {
	t.Parallel()
	sleep := 3 * time.Second
	if all() {
		sleep = 10 * time.Second
	}
	l := fakeboard.NewLine(t)
	dropped := play(t, l, idlingBoard(), fakeboard.Pace{})
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--every-cycle")
	before := r.reading(8 * time.Second)
	r.cmd.Process.Signal(syscall.SIGSTOP)
	time.Sleep(sleep)
	r.cmd.Process.Signal(syscall.SIGCONT)
	woke := time.Now()
	gap := int(sleep.Seconds()*fakeboard.Rate) * 9 / 10 // the buffer keeps a little
	s := r.await(r.out, "a reading after the gap", 3*time.Second, func(s *stamped) bool {
		return s.line.Link.Lost > gap-1000 && s.line.Cylinders[0].State != "stale"
	})
	if took := s.at.Sub(woke); took > time.Second {
		t.Errorf("reading again after %v", took)
	}
	speed := r.await(r.out, "a speed", 3*time.Second, func(s *stamped) bool { return s.line.RPM != nil })
	if s.line.Link.Restarts != 0 || *s.line.Time < *before.line.Time+sleep.Seconds()-0.5 {
		t.Errorf("after %v asleep at %v: %s", sleep, *before.line.Time, s.text)
	}
	t.Logf("asleep for %v: %d frames lost and counted, %d bytes found no room; reading again after %d ms, with a speed after %d",
		sleep, s.line.Link.Lost, dropped(), s.at.Sub(woke).Milliseconds(), speed.at.Sub(woke).Milliseconds())
}

// Row 17: with all cores busy no frame is lost in the reader.
func TestBusyMachine(t *testing.T) {
	if !all() {
		t.Skip("a minute on all cores: EVENDRAW_TEST_ALL=1")
	}
	for range 4 {
		loop := exec.Command("sh", "-c", "while :; do :; done")
		if err := loop.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { loop.Process.Kill(); loop.Wait() })
	}
	l := fakeboard.NewLine(t)
	// Recorded beforehand: the board needs no computer.
	e := idlingBoard()
	rec := fakeboard.FromEngine(e, 62, nil)
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--for", "60s")
	dropped := play(t, l, bytes.NewReader(rec.Bytes()), fakeboard.Pace{})
	last := r.rest(90 * time.Second)
	if last.Link.Lost != 0 || last.Link.Damaged != 0 || last.Link.Frames < 58_000 {
		t.Errorf("%+v, %d bytes found no room", last.Link, dropped())
	}
	t.Logf("count: %d frames with all cores busy, %d lost", last.Link.Frames, last.Link.Lost)
}
