package cli

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// simBoard is the board program, as compiled for the AVR, in the simulator.
type simBoard struct {
	cmd      *exec.Cmd
	pty      string
	waveform string
}

// startSimBoard compiles the board program and the simulator's harness, and
// starts it on a waveform.
func startSimBoard(t *testing.T, waveform string) *simBoard {
	t.Helper()
	effort.Need(t, "avr-gcc", "gcc-avr and avr-libc")
	effort.Need(t, "make", "make")
	if _, err := os.Stat("/usr/include/simavr"); err != nil {
		effort.Missing(t, "the AVR simulator's headers are not installed (Debian package libsimavr-dev)")
	}
	dir := t.TempDir()
	if out, err := exec.Command("make", "-C", "../../firmware-protocol/reference-avr", "OUT="+dir, "all",
		"harness").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b := &simBoard{waveform: filepath.Join(dir, "waveform.txt")}
	b.write(t, waveform)
	b.cmd = exec.Command(filepath.Join(dir, "simboard"), "--waveform", b.waveform, "--eeprom",
		filepath.Join(dir, "eeprom"), filepath.Join(dir, "board.elf"))
	out, err := b.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := b.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.cmd.Process.Kill(); b.cmd.Wait() })
	first, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	b.pty = strings.TrimSpace(strings.TrimPrefix(first, "pty "))
	return b
}

func (b *simBoard) write(t *testing.T, waveform string) {
	t.Helper()
	if err := os.WriteFile(b.waveform, []byte(waveform), 0o644); err != nil {
		t.Fatal(err)
	}
}

// feed changes the waveform while the board runs.
func (b *simBoard) feed(t *testing.T, waveform string) {
	t.Helper()
	b.write(t, waveform)
	if err := b.cmd.Process.Signal(syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
	time.Sleep(300 * time.Millisecond)
}

// simAmbient is the air pressure of the fed waveforms, and simOffsets the errors
// of their sensors, in kPa.
const simAmbient = 99.0

var simOffsets = [4]float64{0.9, -0.6, 0.3, -1.1}

// simVolts is what an MPX4115A at 5 V gives at p kPa: Vs (0.009 P - 0.095), its
// data sheet's transfer function.
func simVolts(c int, p float64) float64 { return 5 * (0.009*(p+simOffsets[c]) - 0.095) }

// standing is the waveform of an engine that stands.
func standing() string {
	s := "0"
	for c := range 4 {
		s += fmt.Sprintf(" %.6f", simVolts(c, simAmbient))
	}
	return s + "\n"
}

// idling is the waveform of one cycle at 1000 rpm, and the true mean draws. The pulse of
// each cylinder, a quick fall and a slow refill, is scaled to its draw.
func idling(draw [4]float64) (waveform string, means [4]float64) {
	const steps, period = 1200, 120000
	lag := [4]float64{0, 0.25, 0.75, 0.5} // 1-2-4-3
	pulse := func(x float64) float64 {
		x -= math.Floor(x)
		return 1 / (1 + math.Exp(-(x-0.1)*70)) * math.Exp(-max(0, x-0.1)/0.3) * (1 - x*x*x*x)
	}
	var unit float64
	for k := range steps {
		unit += pulse(float64(k)/steps) / steps
	}
	var b strings.Builder
	for k := 0; k <= steps; k++ {
		fmt.Fprintf(&b, "%d", k*period/steps)
		for c := range 4 {
			p := simAmbient - draw[c]/unit*pulse(float64(k)/steps-lag[c])
			fmt.Fprintf(&b, " %.6f", simVolts(c, p))
			if k < steps {
				means[c] += (simAmbient - p) / steps
			}
		}
		b.WriteByte('\n')
	}
	return b.String(), means
}

// The whole way, on the bytes of the compiled board program: zero pass,
// reading, advice, screen, record.
func TestBoardProgramEndToEnd(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "the compiled board program in the simulator, in real time")
	board := startSimBoard(t, standing())
	garage := t.TempDir()
	if r := evendraw(t, garage, "bike", "new", "Invented four", "--cylinders", "4"); r.status != 0 {
		t.Fatal(r.err)
	}
	if r := evendraw(t, garage, "zero", "--port", board.pty); r.status != 0 || !strings.Contains(r.out, "kept in") {
		t.Fatalf("zero: %+v", r)
	}
	// Cylinder 4 stands off its partner: of the screws within the pairs only
	// 3-4 has anything to do.
	waveform, means := idling([4]float64{24, 24, 22, 26})
	board.feed(t, waveform)
	r := evendraw(t, garage, "live", "--port", board.pty, "--headless", "--json", "--for", "8s")
	if r.status != 0 {
		t.Fatalf("live: %+v", r)
	}
	all := lines(t, r.out)
	last := all[len(all)-1]
	for i, c := range last.Cylinders {
		if c.Draw == nil || math.Abs(*c.Draw-means[i]) > 0.2 || c.State != "ok" {
			t.Errorf("cylinder %d: draw %v, fed %.3f, state %s", i+1, deref(c.Draw), means[i], c.State)
		} else {
			t.Logf("cylinder %d: draw %.3f kPa, fed %.3f", i+1, *c.Draw, means[i])
		}
	}
	told := 0 // frames that a busy reader is late for make the advice wait
	for _, l := range all {
		if a := l.Advice; a.Kind == "turn" {
			told++
			if a.Screw == nil || *a.Screw != "3-4" {
				t.Errorf("advice %+v", a)
			}
		}
	}
	if told == 0 {
		t.Errorf("no screw was told of; at last %+v", last.Advice)
	}
	if last.RPM == nil || math.Abs(*last.RPM-1000) > 2 {
		t.Errorf("%v rpm", deref(last.RPM))
	}
	t.Logf("link %+v", last.Link) // the simulator's pty drops what a busy reader is late for

	if r := evendraw(t, garage, "board", "check", "--port", board.pty, "--json"); r.status != 0 ||
		strings.Contains(r.out, "dead") {
		t.Errorf("board check: %+v", r)
	}
	t.Run("screen", func(t *testing.T) { screenOnBoard(t, board, garage) })
}

func deref(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// screenOnBoard reads the full screen on the same board, and saves a record.
func screenOnBoard(t *testing.T, board *simBoard, garage string) {
	capture := filepath.Join(t.TempDir(), "screen.cap")
	tm := startTmux(t, 80, 24, garage, "live", "--port", board.pty, "--capture", capture, "--at", "level")
	tm.await("crew 3-4") // to be turned, or named a while ago: nobody turns it
	waveform, _ := idling([4]float64{24, 24, 24, 24})
	board.feed(t, waveform)
	tm.await("tighten its lock nut")
	tm.keys("Enter")
	tm.await("Blip the throttle once") // level
	tm.keys("s")
	tm.await("Saved:")
	tm.keys("q")
	tm.ended()
	if r := evendraw(t, garage, "analyse", capture, "--json"); r.status != 0 ||
		!strings.Contains(r.out, `"zeroed":true`) {
		t.Errorf("the screen's capture: status %d, %s", r.status, r.err)
	}
	records, _ := filepath.Glob(filepath.Join(garage, "bikes", "*", "syncs", "*.level"))
	if len(records) != 1 {
		t.Fatalf("%d records", len(records))
	}
}
