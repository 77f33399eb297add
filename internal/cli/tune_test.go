package cli

import (
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/garage"
	"evendraw/internal/invented"
)

// A person at the screen of a job: looks up twice a second, acts half a second later, finds a screw in two
// seconds and turns half a turn a second. It forgets its third turn, leaves the pilot screws by n once and comes
// back, and quits once and starts again.
type person struct {
	t      *testing.T
	screen *canvasScreen
	engine *engine.Engine
	start  []float64 // turns out of the pilot screws
	turns  int
	told   string // the turn that is made
	skips  bool   // n is still to be pressed
	quits  bool   // q is still to be pressed
	pulls  bool   // the board's lead is still to be pulled, at a turn that is told
	pulled string // the turn at which it was pulled, until it is told again
	cable  *fakeboard.Cable
	board  io.Reader
	limit  float64
	over   float64 // the most seconds beyond the limit at a look after one that was beyond it too
	beyond bool    // the look before was beyond the limit: until then the hand was at a screw
	cooled bool
}

// pilotTurn is what the screen says of a turn: cylinder, way, amount.
var pilotTurn = regexp.MustCompile(
	`Pilot screw (\d) (?:\w+ \()?(in|out)\)?, by ([0-9/ ]+|one)(?: of a turn| turns| turn)`)

// stopTurn is what it says of a turn of the throttle stop.
var stopTurn = regexp.MustCompile(`Turn the throttle stop (clockwise|anticlockwise), by ([0-9/ ]+) of a turn`)

var askedTurn = regexp.MustCompile(`is\s+it\s+made\?`)

// picture is what stands on the screen, in one line.
func (p *person) picture() string { return strings.Join(strings.Fields(p.screen.picture()), " ") }

// act does what the screen asks for, and reports whether the run is to end.
func (p *person) act() (leave bool) {
	time.Sleep(500 * time.Millisecond) // from the glance to the hand
	running := p.engine.Truth().Running
	heat := p.engine.Truth().HeatS - p.limit
	if running && p.beyond {
		p.over = max(p.over, heat)
	}
	p.beyond = running && heat > 0
	switch text := p.picture(); {
	case strings.Contains(text, "top the engine and let it cool"),
		strings.Contains(text, "the engine is to cool before"):
		p.cooled = true
		p.engine.Stop()
	case strings.Contains(text, "Engine stopped, cooling"),
		strings.Contains(text, "both times are guesses"):
		time.Sleep(5 * time.Second)
	case strings.Contains(text, "All seen"), strings.Contains(text, "Before the start. Next"):
		p.screen.press("=")
	case strings.Contains(text, "No zero yet"), strings.Contains(text, "Enter goes on with the old one"):
		p.screen.press("enter")
		time.Sleep(7 * time.Second)
	case !running && (strings.Contains(text, "hen start it") || strings.Contains(text, "engine must run") ||
		strings.Contains(text, "tart the engine, outdoors")):
		p.engine.Start()
		time.Sleep(5 * time.Second)
	case strings.Contains(text, "tighten its lock nut"):
		p.screen.press("enter")
	case strings.Contains(text, "Once is enough for the same sensors"):
		p.screen.press("n")
	case strings.Contains(text, "Enter when they are right"):
		p.screen.press("enter")
	case strings.Contains(text, "lip the throttle"):
		p.engine.Blip()
		time.Sleep(8 * time.Second)
	case strings.Contains(text, "11/13 Pilot screws"):
		return p.atPilots(text)
	case strings.Contains(text, "12/13"):
		p.atRaised(text)
	case strings.Contains(text, "13/13"):
		p.screen.press("s")
		p.screen.await(p.t, "Saved:")
		return true
	}
	return false
}

// atPilots works at the pilot screws.
func (p *person) atPilots(text string) (leave bool) {
	turn := pilotTurn.FindStringSubmatch(text)
	if turn != nil && p.pulled != "" {
		if told := turn[3] + turn[2] + turn[1]; told != p.pulled {
			p.t.Errorf("the lead was pulled at %q; then:\n%s", p.pulled, p.screen.picture())
		}
		p.pulled = ""
	}
	switch asked := askedTurn.MatchString(text); {
	case turn != nil && (asked || p.told != turn[3]+turn[2]+turn[1]):
		news := p.told != turn[3]+turn[2]+turn[1]
		if news && p.pulls && p.turns >= 5 {
			p.pulled = turn[3] + turn[2] + turn[1]
			p.pullLead()
			return false
		}
		if !news && !p.forgot() { // made, and not confirmed
			p.screen.press("enter")
			return false
		}
		if p.turns++; p.turns == 3 && !asked {
			p.told = turn[3] + turn[2] + turn[1]
			return false // forgotten, until it is asked for
		}
		p.told = turn[3] + turn[2] + turn[1]
		p.turn(turn)
		cylinder, _ := strconv.Atoi(turn[1])
		moved := p.engine.Truth().Cylinders[cylinder-1].PilotOut - p.start[cylinder-1]
		if math.Abs(moved) > 0.751 && !strings.Contains(text, "More than 3/4 of a turn from where it stood: ") {
			p.t.Errorf("%+.3f turns from where it stood, without a reason:\n%s", moved, p.screen.picture())
		}
		time.Sleep(500 * time.Millisecond)
		p.screen.press("enter")
	case strings.Contains(text, "HANDS OFF"), strings.Contains(text, "settles and is read"):
		p.told = "" // what is told next is another turn, be it in the same words
	}
	stop := stopTurn.FindStringSubmatch(text)
	switch {
	case turn != nil:
	case stop != nil:
		p.turnStop(stop)
	case p.skips && p.turns >= 4:
		p.skips = false
		p.screen.press("n")
		p.screen.await(p.t, "12/13")
		time.Sleep(2 * time.Second)
		p.screen.press("p")
	case p.quits && p.turns >= 7:
		p.quits = false
		return true
	case strings.Contains(text, "Enter begins"), strings.Contains(text, "Enter goes on"):
		p.screen.press("enter")
		p.told = ""
	}
	return false
}

// pullLead pulls the board's lead while a turn is told, presses Enter, and puts it in again: that turn, not made
// yet, must be told then.
func (p *person) pullLead() {
	p.pulls = false
	p.cable.Unplug()
	p.screen.await(p.t, "board lost")
	time.Sleep(2 * time.Second)
	p.screen.press("enter")
	time.Sleep(2 * time.Second)
	for until := p.engine.Truth().TimeS + 4; p.engine.Truth().TimeS < until; { // what it sent meanwhile is lost
		p.board.Read(make([]byte, 1024))
	}
	p.cable.Plug()
	play(p.t, p.cable, p.board, fakeboard.Pace{})
}

// forgot reports whether the turn in hand is the one that was forgotten.
func (p *person) forgot() bool { return p.turns == 3 }

// turn makes a turn as the screen tells it.
func (p *person) turn(told []string) {
	cylinder, _ := strconv.Atoi(told[1])
	turns, err := garage.ParseTurns(strings.Replace(strings.TrimSpace(told[3]), "one", "1", 1))
	if err != nil {
		p.t.Errorf("the screen says %q: %v", told[0], err)
	}
	time.Sleep(2 * time.Second)
	way := turns
	if told[2] == "out" {
		way = -turns
	}
	p.engine.TurnPilot(cylinder, way)
	time.Sleep(time.Duration(turns/0.5*float64(time.Second)) + 100*time.Millisecond) // the engine is a little behind
}

// turnStop turns the throttle stop as the screen tells it, and takes the hand off while the speed settles.
func (p *person) turnStop(told []string) {
	turns, err := garage.ParseTurns(strings.TrimSpace(told[2]))
	if err != nil {
		p.t.Errorf("the screen says %q: %v", told[0], err)
	}
	if told[1] == "anticlockwise" {
		turns = -turns
	}
	p.engine.TurnStop(turns)
	time.Sleep(8 * time.Second)
}

// atRaised looks at the raised speed.
func (p *person) atRaised(text string) {
	switch {
	case strings.Contains(text, "Open the throttle slowly"), strings.Contains(text, "Keep it near"):
		p.engine.HoldAt(3000)
	case strings.Contains(text, "Let go of the throttle"):
		p.engine.HoldAt(0)
	case strings.Contains(text, "Enter done, next"):
		p.screen.press("enter")
	}
}

// jobRun takes a bike through a job, and returns its record.
func jobRun(t *testing.T, cfg engine.Config, limitMin float64, at string) (rec garage.SyncRecord, p *person) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		card := []string{"bike", "new", "invented bike", "--cylinders", strconv.Itoa(cfg.Bank.Cylinders), "--idle",
			"900-1350", "--idling-limit", strconv.FormatFloat(limitMin, 'g', -1, 64)}
		if r := evendraw(t, dir, card...); r.status != 0 {
			t.Fatal(r.err)
		}
		c, w := onCable()
		e := engine.New(cfg)
		board := ownBoard(e)
		play(t, c, board, fakeboard.Pace{})
		p = &person{t: t, engine: e, cable: c, board: board, skips: true, quits: true, pulls: true,
			limit: 60 * limitMin}
		for _, cyl := range e.Truth().Cylinders {
			p.start = append(p.start, cyl.PilotOut)
		}
		for more := true; more; {
			p.screen = newCanvasScreen(80, 24)
			w.Display = p.screen.open
			args := []string{"live", "--port", c.Path, "--bike", "invented bike"}
			if at != "" {
				args = append(args, "--at", at)
			}
			r := w.begin(t, dir, args...)
			quitting := p.quits
			for begun := time.Now(); !p.act(); {
				if time.Since(begun) > time.Hour {
					t.Fatalf("no end:\n%s", p.screen.picture())
				}
			}
			more = quitting && !p.quits
			p.screen.press("q")
			if status := r.status(); status != 0 {
				t.Errorf("status %d: %s", status, r.text())
			}
			at = ""
		}
		files, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "syncs", "*.level"))
		if len(files) == 0 {
			t.Fatal("no record")
		}
		text, err := os.ReadFile(files[len(files)-1])
		if err != nil {
			t.Fatal(err)
		}
		if err := json.NewDecoder(strings.NewReader(string(text))).Decode(&rec); err != nil {
			t.Fatal(err)
		}
	})
	return rec, p
}

// A person takes a practice bike from the checks to the saved record: over a cooling pause, one n, one forgotten
// turn and a quit. The record holds every pilot screw as it stands, and the engine was never let idle beyond its
// limit without a hand that could see the words. A plain run has a twin from its pilot screws on.
func TestJobByAPersonsHand(t *testing.T) {
	t.Parallel()
	bikes := map[string]engine.Config{"twin": {Bank: bank.Default(2), Seed: 21}}
	at, limit := "pilots", 5.0
	if effort.Whole() {
		at, limit = "", 3.0
		bikes = map[string]engine.Config{"twin": {Bank: bank.Default(2), Seed: 21},
			"triple": {Bank: bank.Default(3), Seed: 29}, "four": {Bank: bank.Default(4), Seed: 23}}
	}
	for name, cfg := range bikes {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cfg.Level, cfg.NoSensorErrors, cfg.PilotsOff, cfg.Running = true, true, 0.5, at != ""
			rec, p := jobRun(t, cfg, limit, at)
			if p.skips || p.quits || p.pulls || p.pulled != "" || p.turns < 3 {
				t.Errorf("n and q were not pressed, no lead pulled, or no turn forgotten: %+v", p)
			}
			if effort.Whole() && !p.cooled {
				t.Error("no cooling pause")
			}
			if p.over > 1 {
				t.Errorf("idled on to %.1f s beyond the limit", p.over)
			}
			if len(rec.Pilots) != cfg.Bank.Cylinders {
				t.Fatalf("the record holds %+v", rec.Pilots)
			}
			for i, cyl := range p.engine.Truth().Cylinders {
				r := rec.Pilots[i]
				off := math.Abs(cyl.PilotOut - cyl.PilotBest)
				held := r.Found == "at-peak" && off <= 0.2 || r.Found == "unsure" && off <= float64(r.UncertaintyTurns)
				if !held || math.Abs(r.MovedTurns-(cyl.PilotOut-p.start[i])) > 1e-6 {
					t.Errorf("screw %d: %+v, moved %+.3f, %+.3f from its best", i+1, r, cyl.PilotOut-p.start[i],
						cyl.PilotOut-cyl.PilotBest)
				}
			}
		})
	}
}

// A person looks at the raised speed on the screen: what it points to is said, each lane has its two marks, and the
// record holds the look.
func TestRaisedOnTheScreen(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		defects []engine.Defect
		says    []string
	}{
		{[]engine.Defect{2: {SlideHangs: 0.5}}, []string{"Cylinder 3 has more vacuum at the raised speed",
			"a slide that hangs", "◇"}},
		{nil, []string{"Even at both"}},
		{[]engine.Defect{{SlideHangs: 0.5}, {SlideHangs: 0.5}}, []string{"The two sides of screw", "the linkage"}},
	}[:effort.Of(1, 3)] {
		t.Run(row.says[0], func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				dir := t.TempDir()
				if r := evendraw(t, dir, "bike", "new", "invented bike", "--cylinders", "4"); r.status != 0 {
					t.Fatal(r.err)
				}
				c, w := onCable()
				e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 4, Level: true, NoSensorErrors: true,
					Running: true, Defects: row.defects})
				play(t, c, ownBoard(e), fakeboard.Pace{})
				p := &person{t: t, engine: e, screen: newCanvasScreen(80, 24)}
				w.Display = p.screen.open
				r := w.begin(t, dir, "live", "--port", c.Path, "--bike", "invented bike", "--at", "raised")
				p.screen.await(t, "Open the throttle slowly")
				p.atRaised(p.picture())
				p.screen.await(t, "Let go of the throttle")
				e.HoldAt(0)
				text := ""
				for n := 0; n < 10 && !strings.Contains(text, row.says[0]); n++ {
					time.Sleep(3 * time.Second)
					if text = p.picture(); strings.Contains(text, "misfires") { // that the shut throttle made
						p.screen.press("g")
					}
				}
				for _, s := range row.says {
					if !strings.Contains(text, s) {
						t.Errorf("%q is not on the screen:\n%s", s, p.screen.picture())
					}
				}
				p.screen.press("enter") // the result was read
				p.screen.await(t, "13/13")
				p.screen.press("s")
				p.screen.await(t, "Saved:")
				p.screen.press("q")
				if status := r.status(); status != 0 {
					t.Errorf("status %d: %s", status, r.text())
				}
				g := invented.Garage(t, dir)
				if all, _ := g.ListSyncs("invented bike"); len(all) == 0 || all[len(all)-1].Kept.Raised == nil {
					t.Errorf("%d records, none with the look", len(all))
				}
			})
		})
	}
}
