package cli

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/board"
	"evendraw/internal/bootloader"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
	"evendraw/internal/invented"
)

// onChip is a board with a boot loader, in whose flash the board program reads an engine, and the world that it is
// plugged in to.
func onChip(e *engine.Engine) (*fakeboard.Chip, world) {
	c := fakeboard.NewChip("/dev/board")
	c.Program = func(f *fakeboard.Flash) (io.Reader, int) {
		if page := bootloader.Program().Page(0); !bytes.HasPrefix(f[:], page[:]) {
			return nil, 0
		}
		return reference(e, bootloader.ProgramVersion), bootloader.ProgramBaud
	}
	return c, world{
		Dial:  dials(c.Dial),
		Ports: func() ([]board.Port, error) { return []board.Port{{Path: c.Path}}, nil },
	}
}

// reference is the stream of a board with a version of the board program.
func reference(src io.Reader, version string) io.Reader {
	return &renamed{src: src, about: func(a *frame.Announcement) {
		a.Model, a.Serial, a.Program = bootloader.ProgramModel, "00C0FFEE", version
	}}
}

// runs sets what a chip runs whatever is in its flash, but for the board program.
func runs(c *fakeboard.Chip, src func() io.Reader, baud int) {
	installed := c.Program
	copy(c.Flash[:], "another program")
	c.Program = func(f *fakeboard.Flash) (io.Reader, int) {
		if bytes.HasPrefix(f[:], []byte("another")) {
			return src(), baud
		}
		return installed(f)
	}
}

func standingEngine() *engine.Engine {
	return engine.New(engine.Config{Bank: bank.Default(4), Seed: 6})
}

// installCase is a state of a board and its port, nil being a blank board.
type installCase struct {
	set       func(c *fakeboard.Chip, w *world)
	asked     int    // exit status without an answer
	askedSays string // and what is said then
	yes       int    // exit status with --yes
	yesSays   string
}

var installCases = map[string]installCase{
	"blank":  {nil, exitKept, "left as it is. The board holds no program.", 0, "Board 00C0FFEE runs program 1.0.0."},
	"halted": {halted, exitKept, "An installation on it was broken off.", 0, "runs program"},
	"another program": {func(c *fakeboard.Chip, _ *world) { runs(c, thermometer, 9600) }, exitKept,
		"another program, which sends data", 0, "can't be brought back"},
	"a silent program": {func(c *fakeboard.Chip, _ *world) { copy(c.Flash[:], "silent") }, exitKept,
		"another program, which sends nothing", 0, "runs program"},
	"older": {func(c *fakeboard.Chip, _ *world) {
		runs(c, func() io.Reader { return reference(standingEngine(), "0.9.0") }, 500_000)
	}, exitOutdated, "an older evendraw program, 0.9.0; this is 1.0.0", 0, "It kept its serial number."},
	"newer": {func(c *fakeboard.Chip, _ *world) {
		runs(c, func() io.Reader { return reference(standingEngine(), "2.0.0") }, 500_000)
	}, exitKept, "not older, 2.0.0", 0, "runs program 1.0.0"},
	"of its own": {func(c *fakeboard.Chip, _ *world) {
		runs(c, func() io.Reader { return ownBoard(standingEngine()) }, 500_000)
	}, exitKept, "which evendraw can read as it is", 0, "runs program 1.0.0"},
	"no boot loader": {func(c *fakeboard.Chip, _ *world) { c.Baud = 0 }, exitNoLoader,
		"Press the board's reset button now", exitNoLoader, "hardware-notes"},
	"another chip": {func(c *fakeboard.Chip, _ *world) { c.Signature = [3]byte{0x1E, 0x98, 0x01} }, exitWrongChip,
		"its chip is an ATmega2560: nothing was written", exitWrongChip, "hint:"},
	"8 MHz": {func(c *fakeboard.Chip, _ *world) { halfClock(c) }, exitKept, "no program", exitWrongChip,
		"this board runs at 8 MHz"},
	"pulled": {func(c *fakeboard.Chip, _ *world) { c.PullAfter = 3000 }, exitKept, "no program", exitLost,
		"evendraw board install once more"},
	"absent": {func(_ *fakeboard.Chip, w *world) {
		w.Ports = func() ([]board.Port, error) { return nil, nil }
	}, exitNoBoard, "none shows at a USB port", exitNoBoard, "data cable"},
	"busy": {func(_ *fakeboard.Chip, w *world) {
		w.Dial = func(path string, _ int) (board.Wire, error) {
			return nil, &board.Error{Kind: board.Busy, Port: path, Program: "listener", Holder: 77}
		}
	}, exitBusy, "in use by listener (process 77)", exitBusy, "Close listener"},
	"several": {func(c *fakeboard.Chip, w *world) {
		w.Ports = func() ([]board.Port, error) { return []board.Port{{Path: "/dev/printer"}, {Path: c.Path}}, nil }
	}, exitUsage, " 1  /dev/printer", exitUsage, "there are 2 serial ports"},
}

func thermometer() io.Reader { return &slowly{text: "23.4 degrees\r\n"} }

// Each state of a board and its port has a text and an exit status of its own, without an answer and with --yes.
func TestBoardInstall(t *testing.T) {
	t.Parallel()
	for name, c := range installCases {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				chip, w := onChip(standingEngine())
				defer time.Sleep(time.Second) // what the chip has begun ends
				defer chip.Unplug()
				if c.set != nil {
					c.set(chip, &w)
				}
				before := *chip.Flash
				r := w.finished(t, t.TempDir(), "board", "install")
				if r.status != c.asked || !strings.Contains(r.out+r.err, c.askedSays) {
					t.Errorf("asked: %d, want %d with %q:\n%s%s", r.status, c.asked, c.askedSays, r.out, r.err)
				}
				if *chip.Flash != before {
					t.Error("written without leave")
				}
				r = w.finished(t, t.TempDir(), "board", "install", "--yes")
				if r.status != c.yes || !strings.Contains(r.out+r.err, c.yesSays) {
					t.Errorf("--yes: %d, want %d with %q:\n%s%s", r.status, c.yes, c.yesSays, r.out, r.err)
				}
				whole := strings.Contains(r.out, "   "+strings.Repeat("#", 50)+"\n   Written")
				if chip.Trespass || (r.status == 0) != whole {
					t.Errorf("trespass %v, no whole bar:\n%s", chip.Trespass, r.out)
				}
			})
		})
	}
}

func halted(c *fakeboard.Chip, _ *world) {
	page := bootloader.Still().Page(0)
	copy(c.Flash[:], page[:])
}

// halfClock makes a board run at 8 MHz: all that the program sends comes at half the rate.
func halfClock(c *fakeboard.Chip) {
	full := c.Program
	c.Baud = 57_600
	c.Program = func(f *fakeboard.Flash) (io.Reader, int) {
		src, baud := full(f)
		return src, baud / 2
	}
}

// slowly prints a line ten times a second.
type slowly struct{ text string }

func (s *slowly) Read(p []byte) (int, error) {
	time.Sleep(100 * time.Millisecond)
	return copy(p, s.text), nil
}

// A board at half the clock is silent in the end: nothing wrong can be read from it.
func TestHalfClockIsSilenced(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onChip(standingEngine())
		defer time.Sleep(time.Second)
		defer c.Unplug()
		halfClock(c)
		w.finished(t, t.TempDir(), "board", "install", "--yes")
		if page := bootloader.Still().Page(0); !bytes.HasPrefix(c.Flash[:], page[:]) {
			t.Error("its program still runs")
		}
		if r := w.finished(t, t.TempDir(), "board", "check"); r.status != exitNoBoard {
			t.Errorf("%+v", r)
		}
	})
}

// One command from a bare board to its card: the program is offered, and the dialogue goes on by itself. Then live
// reads.
func TestSetupOfABareBoard(t *testing.T) {
	t.Parallel()
	for name, set := range map[string]func(c *fakeboard.Chip){
		"blank": func(*fakeboard.Chip) {},
		"57600": func(c *fakeboard.Chip) { c.Baud = 57_600 },
		"another program": func(c *fakeboard.Chip) {
			runs(c, thermometer, 9600)
		},
		"older": func(c *fakeboard.Chip) {
			runs(c, func() io.Reader { return reference(standingEngine(), "0.9.0") }, 500_000)
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir, said := t.TempDir(), ""
			synctest.Test(t, func(t *testing.T) {
				b := bank.Default(4)
				b.Channels = []int{2, 0, 3, 1}
				e := engine.New(engine.Config{Bank: b, Seed: 6})
				c, w := onChip(e)
				defer time.Sleep(time.Second)
				defer c.Unplug()
				set(c)
				said = w.setUp(t, dir, e)
				live := w.finished(t, dir, "live", "--headless", "--json", "--for", "2s")
				if got := lines(t, live.out); live.status != 0 || len(got) < 5 {
					t.Errorf("live: %d lines, %s", len(got), live.err)
				}
			})
			g := invented.Garage(t, dir)
			card, err := g.LoadBoard("00C0FFEE")
			if err != nil || !slices.Equal(card.Hoses, []int{2, 0, 3, 1}) || card.Zero == nil ||
				!strings.Contains(said, "Write it? (y/N):") {
				t.Errorf("%+v, %v:\n%s", card, err, said)
			}
		})
	}
}

// The screen offers the program to a bare board too, asks before it writes, and goes on by itself.
func TestScreenOffersTheProgram(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onChip(standingEngine())
		defer time.Sleep(time.Second)
		defer c.Unplug()
		s := newCanvasScreen(80, 24)
		w.Display = s.open
		r := w.begin(t, t.TempDir(), "live", "--at", "rig")
		s.await(t, "Something is plugged in (/dev/board), but evendraw's board program is not on")
		s.press("i")
		s.await(t, "The board holds no program. Nothing is lost.")
		before := *c.Flash
		s.await(t, "i writes evendraw's program on it, n leaves the board as it is.")
		time.Sleep(2 * time.Minute) // nobody agrees
		if *c.Flash != before {
			t.Error("written without leave")
		}
		s.await(t, "press i to put that program on it")
		s.press("i")
		s.await(t, "i writes evendraw's")
		s.press("i")
		s.await(t, "The board program is being written: ")
		s.await(t, "No zero yet")
		s.press("q")
		if status := r.status(); status != 0 || c.Trespass {
			t.Errorf("status %d, trespass %v: %s", status, c.Trespass, r.text())
		}
	})
}

// Who doesn't want the newer program goes on with the older.
func TestSetupWithoutTheUpdate(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c, w := onChip(standingEngine())
		defer time.Sleep(time.Second)
		defer c.Unplug()
		runs(c, func() io.Reader { return reference(standingEngine(), "0.9.0") }, 500_000)
		var out bytes.Buffer
		in, typed := io.Pipe()
		go func() { io.WriteString(typed, "n\n"); time.Sleep(time.Minute); typed.Close() }()
		status := runIn(t.Context(), w, inGarage(t.TempDir(), []string{"board", "setup"}), in, &out, io.Discard)
		if status != exitFailed || !strings.Contains(out.String(), "Found board 00C0FFEE (reference-avr)") {
			t.Errorf("%d:\n%s", status, out.String())
		}
	})
}

// The rules of the protocol are looked at over a port too, and a board that keeps them is told so.
func TestStrictCheckOverALine(t *testing.T) {
	t.Parallel()
	for _, arguments := range [][]string{{"--port", "/dev/board"}, {"/dev/board"}, {"--json"}} {
		synctest.Test(t, func(t *testing.T) {
			_, w := boardOnACable(t, standingEngine(), fakeboard.Pace{})
			r := w.finished(t, t.TempDir(), append([]string{"board", "check", "--strict"}, arguments...)...)
			if r.status != 0 || strings.Contains(r.err, "closed") ||
				!strings.Contains(r.out, "Every rule") && !strings.Contains(r.out, `"findings":[]`) {
				t.Errorf("%v: %+v", arguments, r)
			}
		})
	}
}

// A check fails when no channel can be used.
func TestBoardCheckWithoutAUsableChannel(t *testing.T) {
	t.Parallel()
	dead := []engine.SensorFault{engine.SensorRailLow, engine.SensorRailLow, engine.SensorRailHigh,
		engine.SensorRailLow}
	for usable, want := range []int{exitFailed, 0} {
		synctest.Test(t, func(t *testing.T) {
			e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 5, SensorFaults: dead[usable:]})
			_, w := boardOnACable(t, e, fakeboard.Pace{})
			r := w.finished(t, t.TempDir(), "board", "check")
			if r.status != want || (want != 0) != strings.Contains(r.err, "no channel can be used") {
				t.Errorf("%d usable: %+v", usable, r)
			}
		})
	}
}

// Of several ports one is asked for, and what is none of their numbers is said to be none.
func TestAPortIsAskedForAgain(t *testing.T) {
	t.Parallel()
	w := world{Ports: func() ([]board.Port, error) { return []board.Port{{Path: "/dev/a"}, {Path: "/dev/b"}}, nil }}
	var out, errOut strings.Builder
	args := inGarage(t.TempDir(), []string{"board", "install"})
	status := runIn(t.Context(), w, args, strings.NewReader("b\n9\n"), &out, &errOut)
	for _, want := range []string{`"b" is none of the numbers 1 to 2`, `"9" is none of the numbers 1 to 2`} {
		if !strings.Contains(out.String(), want) || status != exitUsage {
			t.Errorf("status %d, want %s:\n%s%s", status, want, &out, &errOut)
		}
	}
}
