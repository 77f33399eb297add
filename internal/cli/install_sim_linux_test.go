package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"evendraw/internal/effort"
)

// bareTools builds, once, the simulated chip with a boot loader, and the boot loaders.
var bareTools = sync.OnceValues(func() (dir string, err error) {
	if dir, err = os.MkdirTemp(filepath.Dir(binary), "bare"); err != nil { // removed with the program
		return "", err
	}
	out, err := exec.Command("make", "-C", "../../firmware-protocol/reference-avr", "OUT="+dir, "bare",
		"sketches").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w\n%s", err, out)
	}
	return dir, nil
})

// bareBoard is a simulated chip with a boot loader, at a path that stays while it is plugged in anew.
type bareBoard struct {
	t           *testing.T
	dir, loader string // its files; the boot loader's
	flags       []string
	path        string
	cmd         *exec.Cmd
	faults      []string // what went otherwise than it should
}

// newBareBoard returns a chip with a boot loader, before it is plugged in.
func newBareBoard(t *testing.T, loader string, flags ...string) *bareBoard {
	dir := t.TempDir()
	b := &bareBoard{t: t, dir: dir, loader: loader, flags: flags, path: filepath.Join(dir, "port")}
	b.feed(standing())
	return b
}

// needBareBoards skips the test where there is nothing to build or simulate with, and returns the tools.
func needBareBoards(t *testing.T) (tools string) {
	t.Helper()
	effort.Need(t, "avr-gcc", "gcc-avr and avr-libc")
	effort.Need(t, "arduino-builder", "arduino-builder and arduino-core-avr")
	tools, err := bareTools()
	if err != nil {
		t.Fatal(err)
	}
	return tools
}

func (b *bareBoard) fault(format string, args ...any) {
	b.faults = append(b.faults, fmt.Sprintf(format, args...))
	b.t.Log(b.faults[len(b.faults)-1])
}

// feed sets the voltages.
func (b *bareBoard) feed(waveform string) {
	path := filepath.Join(b.dir, "waveform")
	err := errors.Join(os.WriteFile(path+".new", []byte(waveform), 0o644), os.Rename(path+".new", path))
	if err != nil {
		b.fault("%v", err)
	}
	if b.cmd != nil {
		b.cmd.Process.Signal(syscall.SIGHUP)
	}
}

// plug gives the board power; flash and EEPROM are as they were.
func (b *bareBoard) plug(flags ...string) {
	args := append([]string{"--flash", b.dir + "/flash", "--eeprom", b.dir + "/eeprom", "--waveform",
		b.dir + "/waveform", "--link", b.path}, append(b.flags, flags...)...)
	b.cmd = exec.Command(filepath.Join(filepath.Dir(b.loader), "simboot"), append(args, b.loader)...)
	b.cmd.Stderr = os.Stderr
	out, err := b.cmd.StdoutPipe()
	if err == nil {
		err = b.cmd.Start()
	}
	if err == nil {
		_, err = bufio.NewReader(out).ReadString('\n')
	}
	if err != nil {
		b.fault("%v", err)
	}
}

// unplug takes the power away.
func (b *bareBoard) unplug() {
	b.cmd.Process.Signal(syscall.SIGTERM)
	b.cmd.Wait()
}

// does runs the program on the board, and holds its exit status and words against what they should be.
func (b *bareBoard) does(want int, words string, args ...string) {
	r := evendraw(b.t, b.dir, append(append([]string{"board"}, args...), "--port", b.path)...)
	if r.status != want || !strings.Contains(r.out+r.err, words) {
		b.fault("%v: status %d, want %d with %q:\n%s%s", args, r.status, want, words, r.out, r.err)
	}
}

// From boards with nothing but a real boot loader to readings, in the simulator. Real boot loaders wait by the clock on
// the wall, and so the machine must have time to simulate them.
func TestQuietInstallOnRealBootLoaders(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		tools := needBareBoards(t)
		boards := []*bareBoard{newBareBoard(t, tools+"/loader115200.hex"), newBareBoard(t, tools+"/loader57600.hex"),
			newBareBoard(t, tools+"/loader57600half.hex", "--hz", "8000000")}
		var work sync.WaitGroup
		work.Go(func() { boards[0].fromBareToReading(t.TempDir()) })
		work.Go(func() { boards[1].cutAndRevived(tools) })
		work.Go(func() { boards[2].halfTheClock() })
		work.Wait()
		wrong := 0
		for _, b := range boards {
			b.unplug()
			wrong += len(b.faults)
		}
		return []effort.Figure{{Name: "of 3 bare boards went wrong", Got: float64(wrong), Unit: "steps"}}
	})
}

// fromBareToReading: a fresh program, an empty home and a board with only a boot loader; one command, with hands that
// draw on hoses, ends with a card and a zero, and live reads.
func (b *bareBoard) fromBareToReading(home string) {
	b.plug()
	cmd := exec.Command(binary, "board", "setup", "--port", b.path)
	cmd.Env = []string{"HOME=" + home, "PATH=" + os.Getenv("PATH")}
	typed, err1 := cmd.StdinPipe()
	asked, err2 := cmd.StdoutPipe()
	cmd.Stderr = cmd.Stdout
	if err := errors.Join(err1, err2, cmd.Start()); err != nil {
		b.fault("%v", err)
		return
	}
	said := b.answer(asked, typed)
	if err := cmd.Wait(); err != nil || !strings.Contains(said, "Hose 4 is on channel 1") ||
		!strings.Contains(said, "Air pressure") {
		b.fault("setup: %v:\n%s", err, said)
	}
	if cards, _ := filepath.Glob(filepath.Join(home, "*", "*", "*", "boards", "*.toml")); len(cards) != 1 {
		b.fault("%d cards:\n%s", len(cards), said)
	}
	live := exec.Command(binary, "live", "--port", b.path, "--headless", "--json", "--for", "3s")
	live.Env = cmd.Env
	out, err := live.Output()
	if err != nil || strings.Count(string(out), `"state":"no-pulse"`) < 4 {
		b.fault("live: %v: %s", err, out)
	}
}

// answer answers setup, drawing on the hoses that it asks for, which are on channels 2, 0, 3 and 1.
func (b *bareBoard) answer(asked io.Reader, typed io.Writer) string {
	hose := 0
	draw := func() {
		text := "0"
		for c := range 4 {
			p := simAmbient
			if c == []int{2, 0, 3, 1}[hose] {
				p -= 4
			}
			text += fmt.Sprintf(" %.6f", simVolts(c, p))
		}
		hose++
		b.feed(text + "\n")
	}
	enter := func() { fmt.Fprintln(typed) }
	return converse(asked, map[string]func(){
		"(y/N):": func() { fmt.Fprintln(typed, "y") }, "Enter for MPX4115A:": enter, "then Enter:": enter,
		"hold for a second.": draw, "Let go.": func() { b.feed(standing()) }, "to the sensors:": enter,
	})
}

// cutAndRevived: the older boot loader, and a program that prints all the time. It is overwritten, the lead pulled half
// way, the board revived, and read.
func (b *bareBoard) cutAndRevived(tools string) {
	sketch, err := os.ReadFile(tools + "/print.bin")
	if err == nil {
		err = os.WriteFile(b.dir+"/flash", append(sketch, make([]byte, 32*1024-len(sketch))...), 0o644)
	}
	if err != nil {
		b.fault("%v", err)
	}
	b.plug("--pull-after", "3000")
	b.does(exitLost, "another program, which sends data", "install", "--yes")
	b.cmd.Wait()
	b.plug()
	b.does(0, "An installation on it was broken off.", "install", "--yes")
	b.does(0, "at the air pressure", "check")
}

// halfTheClock: a board at 8 MHz, with the boot loader that such boards have, is named and left silent.
func (b *bareBoard) halfTheClock() {
	b.plug()
	b.does(exitWrongChip, "this board runs at 8 MHz", "install", "--yes")
	b.does(exitNoBoard, "no bytes at all", "check", "--baud", "250000")
}
