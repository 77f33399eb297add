package cli

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/invented"
)

// boardOnACable has a practice engine send its bytes over a cable, inside a bubble.
func boardOnACable(t *testing.T, e *engine.Engine, pace fakeboard.Pace) (path string, w world) {
	t.Helper()
	c, w := onCable()
	play(t, c, e, pace)
	return c.Path, w
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
	e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 5, Running: true,
		SensorFaults: []engine.SensorFault{2: engine.SensorHoseOff},
		Faults:       engine.Faults{Lost: 0.002, BitErrors: 0.002, Overflow: 0.001}})
	var r result
	synctest.Test(t, func(t *testing.T) {
		port, w := boardOnACable(t, e, fakeboard.Pace{Clock: 1.005, Jitter: 15 * time.Millisecond})
		r = w.finished(t, t.TempDir(), "board", "check", "--port", port, "--json")
	})
	var c boardChecked
	if err := json.Unmarshal([]byte(r.out), &c); err != nil || r.status != 0 {
		t.Fatalf("%v %+v", err, r)
	}
	var verdicts []string
	for _, ch := range c.Channels {
		verdicts = append(verdicts, ch.Verdict)
	}
	if !slices.Equal(verdicts, []string{"good", "good", "hose-off", "good"}) || c.Channels[2].Hint == nil ||
		c.Channels[0].Hint != nil || !c.EngineRuns {
		t.Errorf("verdicts %v in %s", verdicts, r.out)
	}
	if c.Rate < 990 || c.Rate > 1000 || c.Lost == 0 || c.Damaged == 0 || c.Overflows == 0 || c.ClockError == nil ||
		math.Abs(*c.ClockError-0.005) > 0.003 {
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
	dir, said := t.TempDir(), ""
	synctest.Test(t, func(t *testing.T) {
		port, w := boardOnACable(t, e, fakeboard.Pace{})
		said = w.setUp(t, dir, e, "--port", port)
	})
	g := invented.Garage(t, dir)
	card, err := g.LoadBoard("PRACTICE")
	if err != nil || !slices.Equal(card.Hoses, b.Channels) || card.Zero == nil ||
		!slices.Equal(card.Sensors, []string{"MPX4115A", "MPX4115A", "MPX4115A", "MPXA6115A"}) {
		t.Errorf("%+v, %v:\n%s", card, err, said)
	}
}

// setUp goes through the dialogue of board setup with the hoses of an engine, inside a bubble, and returns what it
// said.
func (w world) setUp(t *testing.T, dir string, e *engine.Engine, flags ...string) (said string) {
	t.Helper()
	in, typed := io.Pipe()
	defer typed.Close()
	asked, out := io.Pipe()
	ended := make(chan int)
	go func() {
		status := runIn(t.Context(), w, inGarage(dir, append([]string{"board", "setup"}, flags...)), in, out, out)
		out.Close()
		ended <- status
	}()
	said = answerSetup(e, asked, typed)
	if status := <-ended; status != 0 {
		t.Errorf("status %d:\n%s", status, said)
	}
	return said
}

// answerSetup does what the dialogue asks for, and returns what it said.
func answerSetup(e *engine.Engine, asked io.Reader, typed io.Writer) string {
	hose, answers := 0, []string{"5,x", "1,1,1,MPXA6115A"} // wrong, and then right
	enter := func() { fmt.Fprintln(typed) }
	return converse(asked, map[string]func(){
		"(y/N):":              func() { fmt.Fprintln(typed, "y") },
		"Enter for MPX4115A:": func() { fmt.Fprintln(typed, answers[0]); answers = answers[1:] },
		"then Enter:":         enter,
		"hold for a second.":  func() { hose++; e.Suck(hose, 3) },
		"Let go.":             func() { e.Free() },
		"to the sensors:":     enter,
	})
}

// converse reads a dialogue to its end, does what its words ask for, and returns what it said.
func converse(asked io.Reader, replies map[string]func()) string {
	var said strings.Builder
	for read, piece := bufio.NewReader(asked), ""; ; {
		c, err := read.ReadByte()
		if err != nil {
			return said.String()
		}
		said.WriteByte(c)
		piece += string(c)
		for words, do := range replies {
			if strings.HasSuffix(piece, words) {
				piece = ""
				do()
			}
		}
	}
}

// Both passes over a line; then live reads with them, its capture is analysed as live read it, and
// the record tells of them.
func TestBothPassesOverALine(t *testing.T) {
	t.Parallel()
	e := engine.New(engine.Config{Bank: bank.Default(2), Seed: 7, Level: true})
	e.SensorErrors(1, 1.2-0.02*101.3, 1.02)
	e.SensorErrors(2, -1.2+0.02*101.3, 0.98)
	dir := t.TempDir()
	capture := filepath.Join(dir, "c.cap")
	var live result
	synctest.Test(t, func(t *testing.T) {
		port, w := boardOnACable(t, e, fakeboard.Pace{})
		if r := w.finished(t, dir, "match", "--port", port); r.status != 1 ||
			!strings.Contains(r.err, "evendraw zero") {
			t.Errorf("a match pass without a zero pass: %+v", r)
		}
		if r := w.finished(t, dir, "zero", "--port", port); r.status != 0 {
			t.Fatalf("zero: %+v", r)
		}
		e.Start()
		e.Tee(1)
		time.Sleep(3 * time.Second)
		m := w.finished(t, dir, "match", "--port", port, "--json")
		var match struct {
			Gains []float64
			Saved string
		}
		if err := json.Unmarshal([]byte(m.out), &match); err != nil || m.status != 0 || len(match.Gains) != 2 ||
			math.Abs(match.Gains[0]/match.Gains[1]-1.02/0.98) > 0.002 || match.Saved == "" {
			t.Fatalf("match: %v %+v", err, m)
		}
		e.Tee(0)
		live = w.finished(t, dir, "live", "--port", port, "--headless", "--json", "--every-cycle", "--for", "6s",
			"--capture", capture)
	})
	again := evendraw(t, dir, "analyse", capture, "--json")
	if live.status != 0 || again.status != 0 || !strings.HasPrefix(again.out, live.out) || len(live.out) < 1000 {
		t.Errorf("live and analysis differ: statuses %d and %d, %s, %s\n%s", live.status, again.status, live.err,
			again.err, firstDifference(live.out, again.out))
	}
	text, err := os.ReadFile(capture)
	if err != nil || !strings.Contains(string(text[:2000]), "# gains: [1.02") {
		t.Errorf("the capture's head: %v %q", err, text[:1000])
	}
	show := evendraw(t, dir, "board", "show", "PRACTICE")
	if !strings.Contains(show.out, "match    2000") || !strings.Contains(show.out, "zero     2000") ||
		strings.Contains(show.out, "takes it off") {
		t.Errorf("show: %s", show.out)
	}
	if r := evendraw(t, dir, "board", "check", capture, "--json"); r.status != 0 ||
		!strings.Contains(r.out, `"verdict":"good"`) {
		t.Errorf("check of a capture: %+v", r)
	}
}

// Who mistypes the points of a sensor is asked for them again; who named a wrong kind goes back to the kinds, from a
// hose that shows nothing and from the zero; and who has practised is told that nothing is kept.
func TestSetupAsksAgain(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		in, typed := io.Pipe()
		asked, out := io.Pipe()
		ended := make(chan int)
		go func() {
			args := inGarage(dir, []string{"board", "setup", "--practice"})
			status := runIn(t.Context(), world{}.seeded(), args, in, out, out)
			out.Close()
			ended <- status
		}()
		kinds, points := []string{"<", "9", "9"}, []string{"?", "<", "two-point 20kPa=0.79V 101.32kPa=4.00V"}
		next := func(answers *[]string) func() {
			return func() { fmt.Fprintln(typed, (*answers)[0]); *answers = (*answers)[1:] }
		}
		enter := func() { fmt.Fprintln(typed) }
		hoses, zeros := 0, []string{"<", ""}
		said := converse(asked, map[string]func(){
			"Enter for MPX4115A:": next(&kinds), "< goes back:": next(&points), "then Enter:": enter,
			"what is on the card:": enter, "to the sensors:": next(&zeros),
			"a pull shows nothing.)": func() {
				if hoses++; hoses == 1 { // a moment after it was asked: what was typed before that does not count
					time.AfterFunc(time.Millisecond, func() { fmt.Fprintln(typed, "<") })
				}
			},
		})
		typed.Close()
		if status := <-ended; status != 0 || len(kinds)+len(points)+len(zeros) > 0 ||
			strings.Count(said, "Its two points") != 3 || strings.Count(said, "what is on the card:") != 2 ||
			hoses < 9 || !strings.Contains(said, "no card of a board is kept") {
			t.Errorf("status %d, %d hoses, unanswered %q %q %q:\n%s", status, hoses, kinds, points, zeros, said)
		}
	})
	if cards, _ := filepath.Glob(filepath.Join(dir, "boards", "*")); len(cards) > 0 {
		t.Errorf("kept %q", cards)
	}
}
