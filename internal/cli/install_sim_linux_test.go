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
	out, err := exec.Command("make", "-C", "../../firmware-protocol/reference-avr", "OUT="+dir, "bare").CombinedOutput()
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
}

// newBareBoard plugs in a chip with the boot loader of that rate.
func newBareBoard(t *testing.T, loader string, flags ...string) *bareBoard {
	t.Helper()
	effort.ForWhole(t, "boot loaders in the simulator, in real time")
	effort.Need(t, "avr-gcc", "gcc-avr and avr-libc")
	if _, err := os.Stat("/usr/share/arduino/hardware/arduino/avr/bootloaders"); err != nil {
		effort.Missing(t, "no boot loaders (Debian package arduino-core-avr)")
	}
	tools, err := bareTools()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	b := &bareBoard{t: t, dir: dir, loader: filepath.Join(tools, loader), flags: flags, path: filepath.Join(dir, "port")}
	b.feed(standing())
	b.plug()
	return b
}

// feed sets the voltages.
func (b *bareBoard) feed(waveform string) {
	path := filepath.Join(b.dir, "waveform")
	if err := os.Rename(write(b.t, path+".new", waveform), path); err != nil { // never half a file
		b.t.Fatal(err)
	}
	if b.cmd != nil {
		b.cmd.Process.Signal(syscall.SIGHUP)
	}
}

// plug gives the board power; flash and EEPROM are as they were.
func (b *bareBoard) plug(flags ...string) {
	b.t.Helper()
	args := append([]string{"--flash", b.dir + "/flash", "--eeprom", b.dir + "/eeprom", "--waveform",
		b.dir + "/waveform", "--link", b.path}, append(b.flags, flags...)...)
	cmd := exec.Command(filepath.Join(filepath.Dir(b.loader), "simboot"), append(args, b.loader)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	if _, err := bufio.NewReader(out).ReadString('\n'); err != nil {
		b.t.Fatal(err)
	}
	b.cmd = cmd
}

// unplug takes the power away.
func (b *bareBoard) unplug() {
	b.cmd.Process.Signal(syscall.SIGTERM)
	b.cmd.Wait()
}

// install installs the board program without being asked.
func (b *bareBoard) install(want int, words string) {
	b.t.Helper()
	r := evendraw(b.t, b.dir, "board", "install", "--port", b.path, "--yes")
	if r.status != want || !strings.Contains(r.out+r.err, words) {
		b.t.Errorf("status %d, want %d with %q:\n%s%s", r.status, want, words, r.out, r.err)
	}
}

// Done when: a fresh program, an empty home and a board with only a boot loader; one command, with hands that draw on
// hoses, ends with a card and a zero, and live reads.
func TestFromABareBoardToAReading(t *testing.T) {
	t.Parallel()
	b := newBareBoard(t, "loader115200.hex")
	home := t.TempDir()
	cmd := exec.Command(binary, "board", "setup", "--port", b.path)
	cmd.Env = []string{"HOME=" + home, "PATH=" + os.Getenv("PATH")}
	typed, err1 := cmd.StdinPipe()
	asked, err2 := cmd.StdoutPipe()
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = cmd.Stdout
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	said := b.answer(asked, typed)
	if err := cmd.Wait(); err != nil || !strings.Contains(said, "Hose 4 is on channel 1") ||
		!strings.Contains(said, "Air pressure") {
		t.Errorf("%v:\n%s", err, said)
	}
	cards, _ := filepath.Glob(filepath.Join(home, "*", "*", "*", "boards", "*.toml"))
	if len(cards) != 1 {
		t.Errorf("%d cards:\n%s", len(cards), said)
	}
	live := exec.Command(binary, "live", "--port", b.path, "--headless", "--json", "--for", "3s")
	live.Env = cmd.Env
	out, err := live.Output()
	if got := lines(t, string(out)); err != nil || len(got) < 3 || got[len(got)-1].Cylinders[0].State != "no-pulse" {
		t.Errorf("%v: %s", err, out)
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
		"hold for a second.": draw, "Let go.": func() { b.feed(standing()) }, "s skips:": enter,
	})
}

// Both boot loaders take the program; the lead is pulled half way, and the board revived. A board check then reads it.
func TestInstallOnRealBootLoaders(t *testing.T) {
	t.Parallel()
	for _, loader := range []string{"loader115200.hex", "loader57600.hex"} {
		t.Run(loader, func(t *testing.T) {
			t.Parallel()
			b := newBareBoard(t, loader)
			b.unplug()
			b.plug("--pull-after", "3000")
			b.install(exitLost, "evendraw board install once more")
			b.plug()
			b.install(0, "An installation on it was broken off.")
			b.install(0, "It kept its serial number.")
			r := evendraw(t, b.dir, "board", "check", "--port", b.path)
			if r.status != 0 || strings.Count(r.out, "at the air pressure") != 4 {
				t.Errorf("%+v", r)
			}
		})
	}
}

// A board at 8 MHz, with the boot loader that such boards have, is named and left silent.
func TestInstallOnHalfTheClock(t *testing.T) {
	t.Parallel()
	b := newBareBoard(t, "loader57600half.hex", "--hz", "8000000")
	b.install(exitWrongChip, "this board runs at 8 MHz")
	b.install(exitWrongChip, "An installation on it was broken off.")
}

// A running program of another kind that talks all the time is overwritten; until then it is read as what it prints.
func TestInstallOverASketchThatPrints(t *testing.T) {
	t.Parallel()
	b := newBareBoard(t, "loader115200.hex")
	b.unplug()
	sketch := exec.Command("make", "-C", "../../firmware-protocol/reference-avr", "OUT="+b.dir, b.dir+"/print.bin")
	if out, err := sketch.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	flash, err := os.ReadFile(b.dir + "/print.bin")
	if err != nil {
		t.Fatal(err)
	}
	whole := append(flash, make([]byte, 32*1024-len(flash))...)
	write(t, b.dir+"/flash", string(whole))
	b.plug()
	if r := evendraw(t, b.dir, "board", "check", "--port", b.path); r.status != 0 ||
		!strings.Contains(r.out, "board MY-BOARD-1") {
		t.Errorf("%+v", r)
	}
	b.install(0, "another program, which talks")
	if r := evendraw(t, b.dir, "board", "check", "--port", b.path); r.status != 0 ||
		!strings.Contains(r.out, "reference-avr") {
		t.Errorf("%+v", r)
	}
}
