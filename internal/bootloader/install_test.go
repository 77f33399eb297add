package bootloader

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/fakeboard"
)

const port = "/dev/board"

// install installs the board program on a chip, as after opening its port.
func install(t *testing.T, c *fakeboard.Chip, o Options) error {
	t.Helper()
	line, err := c.Dial(port, rates[0])
	if err != nil {
		t.Fatal(err)
	}
	return Install(t.Context(), line, Program(), o)
}

// holds reports whether a chip's flash holds exactly an image, and nothing beside it.
func holds(f *fakeboard.Flash, m *Image) bool {
	for n := range len(f) / PageSize {
		if Page(f[n*PageSize:]) != m.Page(n) {
			return false
		}
	}
	return true
}

// virtually runs a test in virtual time, and unplugs its chip at the end.
func virtually(t *testing.T, test func(t *testing.T, c *fakeboard.Chip)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		c := fakeboard.NewChip(port)
		defer time.Sleep(time.Second) // what the chip has begun ends
		defer c.Unplug()
		test(t, c)
		if c.Trespass {
			t.Error("more was asked of the boot loader than flash below its own")
		}
	})
}

// talk is a program that prints without end.
type talk string

func (s talk) Read(p []byte) (int, error) {
	time.Sleep(10 * time.Millisecond)
	return copy(p, s), nil
}

func chatter(*fakeboard.Flash) (io.Reader, int) {
	return talk("\x14\x10 temperature 23.4\r\n\x14\x10"), 115_200
}

// A board of each sort is installed: rates, chips, what runs on it, and how its boot loader behaves.
func TestInstall(t *testing.T) {
	for name, set := range map[string]func(c *fakeboard.Chip){
		"115200":                 func(c *fakeboard.Chip) {},
		"57600":                  func(c *fakeboard.Chip) { c.Baud = 57_600 },
		"328PB":                  func(c *fakeboard.Chip) { c.Signature = ATmega328PB },
		"answers late":           func(c *fakeboard.Chip) { c.Late = 180 * time.Millisecond },
		"answers later, 57600":   func(c *fakeboard.Chip) { c.Late, c.Baud = 400*time.Millisecond, 57_600 },
		"noise while in syncing": func(c *fakeboard.Chip) { c.Noise = 2 },
		"a program that talks":   func(c *fakeboard.Chip) { c.Program, c.Baud = chatter, 57_600 },
		"a bad answer half way":  func(c *fakeboard.Chip) { c.Spoil = spoilt(60, nil) },
	} {
		t.Run(name, func(t *testing.T) {
			virtually(t, func(t *testing.T, c *fakeboard.Chip) {
				set(c)
				var last, of int
				begun := time.Now()
				if err := install(t, c, Options{Progress: func(n, all int) { last, of = n, all }}); err != nil {
					t.Fatal(err)
				}
				if !holds(c.Flash, Program()) || last != of || of != len(Program().Pages())+1 {
					t.Errorf("not installed as it is; progress %d of %d", last, of)
				}
				t.Logf("%d bytes sent in %v", c.Taken, time.Since(begun))
			})
		})
	}
}

// spoilt changes the answer of that number; nil leaves it out.
func spoilt(at int, change func([]byte) []byte) func([]byte) []byte {
	return func(answer []byte) []byte {
		if at--; at != 0 {
			return answer
		}
		if change == nil {
			return nil
		}
		return change(append([]byte(nil), answer...))
	}
}

// What a boot loader says of its board before anything is written.
func TestExamine(t *testing.T) {
	for name, c := range map[string]struct {
		page Page
		want Content
	}{
		"blank": {blankPage, Blank}, "halted": {stillPage, Halted}, "same": {Program().Page(0), Same},
		"other": {Page{0x0C, 0x94}, Other},
	} {
		t.Run(name, func(t *testing.T) {
			virtually(t, func(t *testing.T, chip *fakeboard.Chip) {
				copy(chip.Flash[:], c.page[:])
				before := *chip.Flash
				line, _ := chip.Dial(port, rates[0])
				f, err := Examine(t.Context(), line, Program(), Options{})
				if err != nil || f != (Found{ATmega328P, 115_200, c.want}) || *chip.Flash != before {
					t.Errorf("%+v, %v", f, err)
				}
			})
		})
	}
}

// What is refused leaves the flash as it was.
func TestRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		set  func(c *fakeboard.Chip)
		want string
	}{
		"another chip":   {func(c *fakeboard.Chip) { c.Signature = [3]byte{0x1E, 0x98, 0x01} }, "an ATmega2560"},
		"unknown chip":   {func(c *fakeboard.Chip) { c.Signature = [3]byte{1, 2, 3} }, "chip of signature 01 02 03"},
		"no boot loader": {func(c *fakeboard.Chip) { c.Baud = 0 }, "no boot loader answers"},
		"only a program": {func(c *fakeboard.Chip) { c.Baud, c.Program = 0, chatter }, "no boot loader answers"},
		"another rate":   {func(c *fakeboard.Chip) { c.Baud = 19_200 }, "no boot loader answers"},
	} {
		t.Run(name, func(t *testing.T) {
			virtually(t, func(t *testing.T, chip *fakeboard.Chip) {
				c.set(chip)
				before := *chip.Flash
				err := install(t, chip, Options{})
				if err == nil || !strings.Contains(err.Error(), c.want) || *chip.Flash != before {
					t.Errorf("%v", err)
				}
			})
		})
	}
}

// A board on whose lead no line restarts it is installed once somebody has pressed its button.
func TestButton(t *testing.T) {
	for i, baud := range rates {
		virtually(t, func(t *testing.T, c *fakeboard.Chip) {
			c.NoReset, c.Baud = true, baud
			late := time.Duration(i)*buttonRate + 2*time.Second // while that rate is being tried
			err := install(t, c, Options{Press: func() { time.AfterFunc(late, c.Button) }})
			if err != nil || !holds(c.Flash, Program()) {
				t.Errorf("%d: %v", baud, err)
			}
		})
	}
}

// The lead is pulled after each of 200 numbers of bytes, over the whole of an installation. The board then runs its old
// program, none, or the new one, never half a one; and the next installation revives it.
func TestCutAnywhere(t *testing.T) {
	const cuts = 200
	old := fakeboard.BlankFlash()
	copy(old[:], strings.Repeat("old program ", 2500))
	copy(old[Room:], strings.Repeat("boot loader.", 170))
	whole := 0
	virtually(t, func(t *testing.T, c *fakeboard.Chip) {
		if err := install(t, c, Options{}); err != nil {
			t.Fatal(err)
		}
		whole = c.Taken
	})
	counts := map[string]int{}
	for i := range cuts {
		virtually(t, func(t *testing.T, c *fakeboard.Chip) {
			flash := *old
			c.Flash, c.PullAfter = &flash, 1+i*(whole-1)/(cuts-1)
			err := install(t, c, Options{})
			if !errors.Is(err, fakeboard.ErrUnplugged) {
				t.Fatalf("cut after %d bytes: %v", c.PullAfter, err)
			}
			counts[state(t, c.Flash, old)]++
			c.PullAfter = 0
			c.Plug()
			if err := install(t, c, Options{}); err != nil || state(t, c.Flash, old) != "new" {
				t.Errorf("cut after %d bytes: not revived: %v", c.PullAfter, err)
			}
		})
	}
	t.Logf("count: %d leads pulled while the board's program was written, 0 boards not revived: %v", cuts, counts)
}

// state is what a board would run.
func state(t *testing.T, f, old *fakeboard.Flash) string {
	if *f == *old {
		return "old"
	}
	if [len(f) - Room]byte(f[Room:]) != [len(f) - Room]byte(old[Room:]) {
		t.Error("the boot loader was touched")
	}
	if Page(f[:]) == stillPage {
		return "silent"
	}
	for _, n := range Program().Pages() {
		if Page(f[n*PageSize:]) != Program().Page(n) {
			t.Errorf("half a program would run: page %d", n)
		}
	}
	return "new"
}

// A page that reads back otherwise is written again, and what never reads back right is told.
func TestReadBack(t *testing.T) {
	virtually(t, func(t *testing.T, c *fakeboard.Chip) {
		c.Spoil = func(answer []byte) []byte {
			if len(answer) > PageSize && answer[1] != stillPage[0] { // a page but for page 0 at the beginning
				answer[40] ^= 4
			}
			return answer
		}
		var page *MismatchError
		if err := install(t, c, Options{}); !errors.As(err, &page) || page.Page != 1 || Page(c.Flash[:]) != stillPage {
			t.Errorf("%v", err)
		}
	})
}

// An end from outside leaves the board silent, and is returned.
func TestInterrupted(t *testing.T) {
	virtually(t, func(t *testing.T, c *fakeboard.Chip) {
		ctx, cancel := context.WithCancel(t.Context())
		line, _ := c.Dial(port, rates[0])
		err := Install(ctx, line, Program(), Options{Progress: func(n, _ int) {
			if n == 10 {
				cancel()
			}
		}})
		if !errors.Is(err, context.Canceled) || Page(c.Flash[:]) != stillPage {
			t.Errorf("%v", err)
		}
	})
}

// A board can be made silent.
func TestStill(t *testing.T) {
	virtually(t, func(t *testing.T, c *fakeboard.Chip) {
		line, _ := c.Dial(port, rates[0])
		if err := Install(t.Context(), line, Still(), Options{}); err != nil || Page(c.Flash[:]) != stillPage {
			t.Error(err)
		}
	})
}
