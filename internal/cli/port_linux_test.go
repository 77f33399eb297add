package cli

// Rows 12, 13, 14 and 16 of the fault table and the errors of a port, on the program as a
// process.

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
)

// patient is a board that waits where a busy host takes no bytes: what is tested is not loss.
var patient = fakeboard.Pace{Patient: true}

// Row 12: the lead is pulled and put back, the port having another number each
// time. The loss is told, what comes is read again, and nothing is left open.
func TestReplug(t *testing.T) {
	t.Parallel()
	const programs = 2 // side by side: each waits for its board most of the time
	cycles := effort.Of(3, 100)
	var lost, back [programs]time.Duration
	t.Run("programs", func(t *testing.T) {
		for i := range programs {
			t.Run(fmt.Sprint(i), func(t *testing.T) {
				t.Parallel()
				lost[i], back[i] = replug(t, cycles)
			})
		}
	})
	t.Logf("count: %d times unplugged and plugged in again, noticed after at most %d ms, reading again after at "+
		"most %d ms", programs*cycles, slices.Max(lost[:]).Milliseconds(), slices.Max(back[:]).Milliseconds())
}

// replug pulls the lead so many times, and returns how long the program took at worst to notice
// it, and to read again.
func replug(t *testing.T, cycles int) (lost, back time.Duration) {
	socket := fakeboard.Socket{Path: filepath.Join(t.TempDir(), "board")}
	l := fakeboard.NewLine(t)
	rec := named(idlingOnce())
	plug := func(l *fakeboard.Line, boot int) func() int {
		if err := socket.Plug(l); err != nil {
			t.Fatal(err)
		}
		return play(t, l, bytes.NewReader(rec.Restarted(fmt.Sprintf("%04X", boot)).Bytes()), patient)
	}
	end := plug(l, 1)
	r := start(t, os.Getuid(), "live", "--port", socket.Path, "--headless", "--json", "--every-cycle")
	r.reading()
	var files, kilobytes int
	for i := range cycles {
		next := fakeboard.NewLine(t) // before the old one goes, so that it gets another number
		socket.Empty()
		at := time.Now()
		l.Unplug()
		end()
		lost = max(lost, r.says("vanished").at.Sub(at))
		l = next
		at = time.Now()
		end = plug(l, 2+i)
		s := r.await(r.out, "a line of the new run", func(s *stamped) bool {
			return s.line.Link.Restarts == i+1 &&
				!stale(t, s)
		})
		back = max(back, s.at.Sub(at))
		r.reading()
		if i == min(cycles/2, 9) {
			files, kilobytes = r.usage()
		}
	}
	nowFiles, nowKilobytes := r.usage()
	if nowFiles > files || nowKilobytes > kilobytes+5000 {
		t.Errorf("%d files and %d kB in use, were %d and %d", nowFiles, nowKilobytes, files, kilobytes)
	}
	return lost, back
}

// On a real pty, on a quiet machine: noticed within 300 ms, reading again within a second.
func TestQuietReplug(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		var lost, back time.Duration
		late := effort.Lateness(func() { lost, back = replug(t, 10) })
		return []effort.Figure{
			effort.Millis("unplugging noticed", lost, 300*time.Millisecond+2*late),
			effort.Millis("reading again", back, time.Second+2*late),
		}
	})
}

// On a real pty, on a quiet machine: silence is told within 300 ms.
func TestQuietSilence(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		longest := time.Duration(0)
		late := effort.Lateness(func() {
			l := fakeboard.NewLine(t)
			r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--every-cycle")
			board := idlingBoard()
			for range 10 {
				end := play(t, l, board, fakeboard.Pace{})
				r.reading()
				time.Sleep(300 * time.Millisecond)
				end()
				silent := time.Now()
				s := r.await(r.out, "a stale line", func(s *stamped) bool { return s.at.After(silent) && stale(t, s) })
				longest = max(longest, s.at.Sub(silent))
			}
		})
		return []effort.Figure{effort.Millis("marked stale", longest, 300*time.Millisecond+2*late)}
	})
}

// Row 13: a second program on the port is refused, and the first loses nothing.
func TestTwoProgramsOnePort(t *testing.T) {
	t.Parallel()
	refused, _ := twoPrograms(t)
	t.Logf("count: %d second programs refused, and after a kill -9 of the first none", refused)
}

// twoPrograms has a second program try the port of a first, as every user, and returns how
// many were refused, and how long the slowest refusal took.
func twoPrograms(t *testing.T) (refused int, slowest time.Duration) {
	for name, uid := range users() {
		l := fakeboard.NewLine(t)
		l.LetIn(t)
		first := start(t, uid, "live", "--port", l.Path, "--headless", "--json")
		play(t, l, idlingBoard(), patient)
		first.reading()
		for other, otherUID := range users() {
			second := start(t, otherUID, "live", "--port", l.Path, "--headless", "--json")
			status := second.status()
			took := time.Since(second.started)
			if status != exitBusy || !strings.Contains(second.text(), fmt.Sprint(first.cmd.Process.Pid)) {
				t.Errorf("first %s, second %s: status %d, want %d and process %d: %s", name, other, status, exitBusy,
					first.cmd.Process.Pid, second.text())
			}
			refused, slowest = refused+1, max(slowest, took)
		}
		since := len(first.out)
		for range since {
			<-first.out
		}
		if link := first.reading().line.Link; link.Lost != 0 || link.Damaged != 0 || link.Restarts != 0 {
			t.Errorf("the first, as %s, lost frames: %+v", name, link)
		}
		first.cmd.Process.Kill()
		<-first.ended
		heir := start(t, uid, "live", "--port", l.Path, "--headless", "--json")
		heir.reading()
	}
	return refused, slowest
}

// On a quiet machine a second program is refused within 500 ms.
func TestQuietRefusal(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		var slowest time.Duration
		late := effort.Lateness(func() { _, slowest = twoPrograms(t) })
		return []effort.Figure{effort.Millis("a second program refused", slowest, 500*time.Millisecond+2*late)}
	})
}

// suspectsNamed checks that those are named who are known to grab a port.
func suspectsNamed(t *testing.T, r *process) {
	t.Helper()
	for _, name := range []string{"ModemManager", "brltty"} {
		if !strings.Contains(r.text(), name) {
			t.Errorf("%s is not named: %s", name, r.text())
		}
	}
}

// Row 14: another program's junk on the port names the usual suspects.
func TestGrabbedPort(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	go echo(l)
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--baud", "500000")
	if status := r.status(); status != exitNoBoard || !strings.Contains(r.text(), "bytes but no valid frames") {
		t.Errorf("status %d, %s", status, r.text())
	}
	suspectsNamed(t, r)
}

// So does a port that goes away.
func TestPortGoneWhileWaiting(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--baud", "500000")
	r.holds(l.Path)
	l.Unplug()
	if status := r.status(); status != exitLost || !strings.Contains(r.text(), "vanished") {
		t.Errorf("status %d, %s", status, r.text())
	}
	suspectsNamed(t, r)
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
			what, path string
			status     int
			words      []string
		}{
			{"absent", "/dev/pts/99999", exitNoBoard, []string{"no such port", "lead"}},
			{"a file", file, exitFailed, []string{"not a serial port", "/dev/ttyUSB0"}},
			{"no terminal", "/dev/null", exitFailed, []string{"not a serial port"}},
			{"denied", shut.Path, exitDenied, []string{"permission denied", "chmod"}},
		} {
			t.Run(name+", "+c.what, func(t *testing.T) {
				if c.status == exitDenied && uid == 0 {
					t.Skip("nothing is denied to root")
				}
				r := start(t, uid, "live", "--headless", "--json", "--port", c.path)
				status := r.status()
				for _, w := range append(c.words, "hint:") {
					if !strings.Contains(r.text(), w) {
						t.Errorf("%q is not in %s", w, r.text())
					}
				}
				if status != c.status {
					t.Errorf("status %d, want %d: %s", status, c.status, r.text())
				}
			})
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
	play(t, l, idlingBoard(), patient)
	outside := start(t, nobody, "live", "--headless", "--json", "--port", l.Path)
	if status := outside.status(); status != exitDenied || !strings.Contains(outside.text(), "sudo usermod -aG ") {
		t.Errorf("without the group: status %d, %s", status, outside.text())
	}
	startIn(t, nobody, []uint32{dialout}, "live", "--headless", "--json", "--port", l.Path).reading()
}

// Row 16: the laptop sleeps while the board talks on. What came meanwhile is counted as lost,
// no time is lost with it, and reading goes on.
func TestLaptopSleeps(t *testing.T) {
	t.Parallel()
	sleepOfLaptop(t, effort.Of(4*time.Second, 10*time.Second)) // the system's buffer holds nearly three
}

// counted counts the bytes that are read through it.
type counted struct {
	io.Reader
	n atomic.Int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n.Add(int64(n))
	return n, err
}

// sleepOfLaptop stops the program while the board sends what it would in that time, and returns
// how soon it read again.
func sleepOfLaptop(t *testing.T, sleep time.Duration) time.Duration {
	l := fakeboard.NewLine(t)
	board := &counted{Reader: idlingBoard()}
	dropped := play(t, l, board, fakeboard.Pace{})
	r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--every-cycle")
	before := r.reading()
	r.cmd.Process.Signal(syscall.SIGSTOP)
	eventually(t, "the program stops", func() bool { return processState(r.cmd.Process.Pid) == "T" })
	const perSecond = 24 * 1000 // bytes of a four-channel board
	asleepFrom := board.n.Load()
	eventually(t, "the board talks on",
		func() bool { return board.n.Load()-asleepFrom > int64(perSecond*sleep.Seconds()) })
	woke := time.Now()
	r.cmd.Process.Signal(syscall.SIGCONT)
	after := *before.line.Time + sleep.Seconds()/2 // a busy machine loses frames before as well
	s := r.await(r.out, "a reading after the gap", func(s *stamped) bool {
		return s.line.Link.Lost > 0 && !stale(t, s) && s.line.Time != nil && *s.line.Time >= after
	})
	speed := r.await(r.out, "a speed", func(s *stamped) bool { return s.line.RPM != nil })
	// Each frame of that time has come, or is counted as lost; a reading may be a third of a second old.
	if link := s.line.Link; link.Restarts != 0 || math.Abs(float64(link.Frames+link.Lost)-1000**s.line.Time) > 333 {
		t.Errorf("after %v asleep at %v: %s", sleep, *before.line.Time, s.text)
	}
	t.Logf("asleep for %v: %d frames lost and counted, %d bytes found no room; reading again after %d ms, with a "+
		"speed after %d",
		sleep, s.line.Link.Lost, dropped(), s.at.Sub(woke).Milliseconds(), speed.at.Sub(woke).Milliseconds())
	return s.at.Sub(woke)
}

// On a quiet machine it reads again within a second of waking.
func TestQuietLaptopWakes(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		return []effort.Figure{effort.Millis("reading again after waking", sleepOfLaptop(t, 3*time.Second),
			time.Second)}
	})
}

// echo sends what a modem would, over and over, until the line is unplugged.
func echo(l *fakeboard.Line) {
	junk := []byte("AT\r\r\nERROR\r\nAT+GCAP\r\r\n+CME ERROR: 3\r\n")
	for {
		if _, err := l.Write(junk); err != nil {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
}
