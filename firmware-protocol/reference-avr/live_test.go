package avr_test

import (
	"bufio"
	"context"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// A board is read over a pseudo terminal while its voltages change. A reader that comes late
// may lose frames, as the terminal holds some tenths of a second.
func TestLive(t *testing.T) {
	effort.ForWhole(t, "the program's other habits")
	t.Parallel()
	s := live(t, build(t, "all", "harness"))
	if s.stats.Overflows != 0 {
		t.Errorf("the board was late: %+v", s.stats)
	}
}

// The board's time is not ahead of the wall's, and a reader that is not late loses nothing.
// Not in parallel: it is held to real time.
func TestQuietLive(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		s := live(t, build(t, "all", "harness"))
		return []effort.Figure{
			effort.Millis("board ahead of the wall", s.simulated-s.took, 200*time.Millisecond),
			{Name: "frames lost or damaged", Got: float64(s.stats.Lost + s.stats.Damaged), Limit: 0, Unit: "frames"},
		}
	})
}

// reading is what a reader saw: for how long by the board's tick, and by the wall's clock.
type reading struct {
	simulated, took time.Duration
	stats           frame.Stats
}

// live reads a board until a change of its voltages shows.
func live(t *testing.T, dir string) reading {
	t.Helper()
	wave := write(t, "0 1 1 1 1\n")
	ctx, cancel := context.WithTimeout(t.Context(), effort.Hang)
	defer cancel()
	cmd := exec.CommandContext(ctx, dir+"/simboard", "--waveform", wave, dir+"/board.elf")
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	name, ok := strings.CutPrefix(strings.TrimSpace(line), "pty ")
	if err != nil || !ok {
		t.Fatalf("first line %q, %v", line, err)
	}
	port, err := os.OpenFile(name, os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer port.Close()
	s := turnScrew(t, port, cmd.Process, wave)
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("simboard: %v", err)
	}
	return s
}

// turnScrew reads 500 frames, changes channel 2, and waits for its count.
func turnScrew(t *testing.T, port *os.File, board *os.Process, wave string) reading {
	t.Helper()
	r := frame.NewReader(port)
	begun := time.Now()
	var first, f frame.Frame
	turned := false
	for n := 0; f.Counts[2] != 614; n++ {
		var err error
		if f, err = r.Read(); err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			first = f
		}
		if want := [frame.MaxChannels]uint16{204, 204, 204, 204}; f.Counts != want && !turned {
			t.Fatalf("counts %v before the change", f.Counts)
		}
		if n == 500 {
			turned = true
			if err := os.WriteFile(wave, []byte("0 1 1 3 1\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			if err := board.Signal(syscall.SIGHUP); err != nil {
				t.Fatal(err)
			}
		}
	}
	s := reading{time.Duration(f.Tick-first.Tick) * time.Microsecond, time.Since(begun), r.Stats()}
	t.Logf("%v by the tick in %v; %+v", s.simulated, s.took, s.stats)
	return s
}
