//go:build linux

package cli

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
)

// The screen's and the machine's share, on a quiet machine. Tests whose figures are the processor's time or
// counts run in parallel, after those of the wall's.

// ticksPerSecond is the unit of the kernel's processor times: USER_HZ, 100 on Linux.
const ticksPerSecond = 100

// processor is how long the program has used a processor, in seconds.
func (p *onPTY) processor() float64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	if err != nil {
		p.t.Fatal(err)
	}
	f := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
	user, _ := strconv.Atoi(f[11])
	system, _ := strconv.Atoi(f[12])
	return float64(user+system) / ticksPerSecond
}

// mostShare of a core is what the whole program may take beside the practice engine:
// 3 % for the screen, the rest for engine and stages.
const mostShare = 5.0

// firstPicture is how long the program may take to its first picture, beside what a program
// takes on this machine that does next to nothing; keyAnswer is how long a key may wait.
const firstPicture, keyAnswer = 100 * time.Millisecond, 50 * time.Millisecond

// nothingTime is how long this program takes to say its version, at best of some times.
func nothingTime(t *testing.T) time.Duration {
	best := time.Hour
	for range 5 {
		begun := time.Now()
		if err := exec.Command(binary, "--version").Run(); err != nil {
			t.Fatal(err)
		}
		best = min(best, time.Since(begun))
	}
	return best
}

// The first picture comes soon, and keys are answered soon.
func TestQuietScreen(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		first, answer, nothing := time.Hour, time.Hour, nothingTime(t)
		var p *onPTY
		for range 5 {
			p = startPTY(t, 120, 40, nil, binary, "live", "--practice")
			first = min(first, p.await("Before the start", 0).Sub(p.begun))
		}
		for range 10 {
			mark := len(p.output())
			begun := time.Now()
			p.mine.Write([]byte("?"))
			answer = min(answer, p.await("closes", mark).Sub(begun))
			p.mine.Write([]byte("?"))
			time.Sleep(60 * time.Millisecond)
		}
		return []effort.Figure{
			effort.Millis("first picture", first, firstPicture+nothing),
			effort.Millis("a key answered", answer, keyAnswer),
		}
	})
}

// Twenty pictures a second cost little.
func TestQuietScreenCost(t *testing.T) {
	t.Parallel()
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		p := startPTY(t, 120, 40, nil, binary, "live", "--practice")
		p.await("Before the start", 0)
		p.mine.Write([]byte("oge")) // the levelling view, with the engine running
		time.Sleep(4 * time.Second)
		before, mark, begun := p.processor(), len(p.output()), time.Now()
		time.Sleep(5 * time.Second)
		share := (p.processor() - before) / time.Since(begun).Seconds()
		t.Logf("%d bytes a second to the terminal", (len(p.output())-mark)/5)
		return []effort.Figure{{Name: "a core's share with engine and stages", Got: 100 * share, Limit: mostShare,
			Unit: "%"}}
	})
}

// Row 17: with all cores busy no frame is lost in the reader.
func TestQuietBusyMachine(t *testing.T) {
	t.Parallel()
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		rec := named(fakeboard.FromEngine(idlingEngine(), 32, nil)).Bytes() // beforehand: the board needs no computer
		for range 4 {
			loop := exec.Command("sh", "-c", "while :; do :; done")
			if err := loop.Start(); err != nil {
				t.Fatal(err)
			}
			defer func() { loop.Process.Kill(); loop.Wait() }()
		}
		l := fakeboard.NewLine(t)
		r := start(t, os.Getuid(), "live", "--port", l.Path, "--headless", "--json", "--for", "30s")
		dropped := play(t, l, bytes.NewReader(rec), fakeboard.Pace{})
		link := r.rest().Link
		if link.Frames < 25_000 {
			t.Errorf("%+v, %d bytes found no room", link, dropped())
		}
		t.Logf("count: %d frames with all cores busy, %d lost", link.Frames, link.Lost)
		return []effort.Figure{{Name: "frames lost or damaged with all cores busy",
			Got: float64(link.Lost + link.Damaged), Unit: "frames"}}
	})
}

// Each way out gives the terminal back within a second.
func TestQuietWaysOut(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		var slowest time.Duration
		late := effort.Lateness(func() { slowest = allWaysOut(t) })
		return []effort.Figure{effort.Millis("the terminal given back", slowest, time.Second+2*late)}
	})
}
