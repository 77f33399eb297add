package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/garage"
)

// boardOnALine has a practice engine send its bytes over a line, and returns the line's path.
func boardOnALine(t *testing.T, e *engine.Engine, pace fakeboard.Pace) string {
	t.Helper()
	l := fakeboard.NewLine(t)
	ctx, stop := context.WithCancel(context.Background())
	t.Cleanup(stop)
	go l.Play(ctx, e, pace)
	return l.Path
}

// boardChecked is what tests look at in the JSON of a board check.
type boardChecked struct {
	Board       string
	Rate        float64
	ClockError  *float64 `json:"clock_error"`
	Lost        int
	Damaged     int
	Overflows   int
	EngineRuns  bool `json:"engine_running"`
	NominalRate int  `json:"nominal_rate"`
	Channels    []struct {
		Verdict string
		Hint    *string
		Budget  *struct {
			Total *float64 `json:"total_kpa"`
		}
	}
}

// A board over a line, whose third hose is off: the check says so, and no more.
func TestBoardCheckOverALine(t *testing.T) {
	t.Parallel()
	e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 5, Running: true, SensorFaults: []engine.SensorFault{2: engine.SensorHoseOff},
		Faults: engine.Faults{Lost: 0.002, BitErrors: 0.002, Overflow: 0.001}})
	port := boardOnALine(t, e, fakeboard.Pace{Clock: 1.005, Jitter: 15 * time.Millisecond})
	r := evendraw(t, t.TempDir(), "board", "check", "--port", port, "--json")
	var c boardChecked
	if err := json.Unmarshal([]byte(r.out), &c); err != nil || r.status != 0 {
		t.Fatalf("%v %+v", err, r)
	}
	var verdicts []string
	for _, ch := range c.Channels {
		verdicts = append(verdicts, ch.Verdict)
	}
	if !slices.Equal(verdicts, []string{"good", "good", "hose-off", "good"}) || c.Channels[2].Hint == nil || c.Channels[0].Hint != nil || !c.EngineRuns {
		t.Errorf("verdicts %v in %s", verdicts, r.out)
	}
	if c.Rate < 990 || c.Rate > 1000 || c.Lost == 0 || c.Damaged == 0 || c.Overflows == 0 || c.ClockError == nil || math.Abs(*c.ClockError-0.005) > 0.003 {
		t.Errorf("link %s", r.out)
	}
	if b := c.Channels[0].Budget; b == nil || b.Total == nil {
		t.Errorf("no budget in %s", r.out)
	}
}

// Setup over a line, with a mouth that sucks on the hoses as the dialogue asks: it finds each hose's channel, and the
// card holds kinds, hoses and zero.
func TestBoardSetupOverALine(t *testing.T) {
	t.Parallel()
	b := bank.Default(4)
	b.Channels = []int{2, 0, 3, 1}
	e := engine.New(engine.Config{Bank: b, Seed: 6})
	port, dir := boardOnALine(t, e, fakeboard.Pace{}), t.TempDir()
	ctx, stop := context.WithTimeout(t.Context(), 60*time.Second)
	defer stop()
	cmd := exec.CommandContext(ctx, binary, "board", "setup", "--port", port, "--garage", dir)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	hose, answers := 0, []string{"5,x", "1,1,1,MPXA6115A"} // wrong, and then right
	for read, piece := bufio.NewReader(out), ""; ; {
		c, err := read.ReadByte()
		if err != nil {
			break
		}
		said.WriteByte(c)
		piece += string(c)
		for _, s := range []struct {
			words string
			do    func()
		}{
			{"Enter for MPX4115A:", func() { fmt.Fprintln(in, answers[0]); answers = answers[1:] }},
			{"then Enter:", func() { fmt.Fprintln(in) }},
			{"hold for a second.", func() { hose++; e.Suck(hose, 3) }},
			{"Let go.", func() { e.Free() }},
			{"s skips:", func() { fmt.Fprintln(in) }},
		} {
			if strings.HasSuffix(piece, s.words) {
				piece = ""
				s.do()
			}
		}
	}
	if err := cmd.Wait(); err != nil {
		t.Fatalf("%v:\n%s", err, said.String())
	}
	g, err := garage.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	card, err := g.LoadBoard("PRACTICE")
	if err != nil || !slices.Equal(card.Hoses, b.Channels) || card.Zero == nil || !slices.Equal(card.Sensors, []string{"MPX4115A", "MPX4115A", "MPX4115A", "MPXA6115A"}) {
		t.Errorf("%+v, %v:\n%s", card, err, said.String())
	}
}

// Both passes over a line; then live reads with them, its capture is analysed as live read it, and the record tells of them.
func TestBothPassesOverALine(t *testing.T) {
	t.Parallel()
	e := engine.New(engine.Config{Bank: bank.Default(2), Seed: 7, Level: true})
	e.SensorErrors(1, 1.2-0.02*101.3, 1.02)
	e.SensorErrors(2, -1.2+0.02*101.3, 0.98)
	port, dir := boardOnALine(t, e, fakeboard.Pace{}), t.TempDir()
	if r := evendraw(t, dir, "match", "--port", port); r.status != 1 || !strings.Contains(r.err, "evendraw zero") {
		t.Errorf("a match pass without a zero pass: %+v", r)
	}
	if r := evendraw(t, dir, "zero", "--port", port); r.status != 0 {
		t.Fatalf("zero: %+v", r)
	}
	e.Start()
	e.Tee(1)
	time.Sleep(3 * time.Second)
	m := evendraw(t, dir, "match", "--port", port, "--json")
	var match struct {
		Gains []float64
		Saved string
	}
	if err := json.Unmarshal([]byte(m.out), &match); err != nil || m.status != 0 || len(match.Gains) != 2 || math.Abs(match.Gains[0]/match.Gains[1]-1.02/0.98) > 0.002 || match.Saved == "" {
		t.Fatalf("match: %v %+v", err, m)
	}
	e.Tee(0)
	capture := filepath.Join(dir, "c.cap")
	live := evendraw(t, dir, "live", "--port", port, "--headless", "--json", "--every-cycle", "--for", "6s", "--capture", capture)
	again := evendraw(t, dir, "analyse", capture, "--json")
	// What says that frames are late goes by this computer's clock: on a loaded one it may come, and is in no capture.
	live.out = strings.Join(slices.DeleteFunc(strings.SplitAfter(live.out, "\n"), func(line string) bool { return strings.Contains(line, `"state":"stale"`) }), "")
	if live.status != 0 || again.status != 0 || !strings.HasPrefix(again.out, live.out) || len(live.out) < 1000 {
		t.Errorf("live and analysis differ: statuses %d and %d, %s, %s\n%s", live.status, again.status, live.err, again.err, firstDifference(live.out, again.out))
	}
	text, err := os.ReadFile(capture)
	if err != nil || !strings.Contains(string(text[:2000]), "# gains: [1.02") {
		t.Errorf("the capture's head: %v %q", err, text[:1000])
	}
	show := evendraw(t, dir, "board", "show", "PRACTICE")
	if !strings.Contains(show.out, "match    20") || !strings.Contains(show.out, "zero     20") || strings.Contains(show.out, "takes it off") {
		t.Errorf("show: %s", show.out)
	}
	if r := evendraw(t, dir, "board", "check", capture, "--json"); r.status != 0 || !strings.Contains(r.out, `"verdict":"good"`) {
		t.Errorf("check of a capture: %+v", r)
	}
}
