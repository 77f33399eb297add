package screen

import (
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

var noon = time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)

// snapshot is a steady idle of a four that stands unevenly.
func snapshot() *session.Snapshot {
	r := &balance.Reading{Time: 42, RPM: 1053, Steady: true, Reference: 1, Spread: 3.4, SpreadUncertainty: 0.1, Cycles: 60,
		Span: cycle.Span{Cycle: true, N: 4, Period: 0.114},
		Advice: balance.Advice{Kind: balance.Turn, Screw: 2, ScrewName: "2-3", Direction: balance.Clockwise, Turns: 0.375,
			Why: balance.WhyUnlevel}}
	for i, d := range []float64{0, 0.2, 3.4, 3.1} {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Channel: i, Draw: pressure.KPa(22.4 + d),
			Difference: pressure.KPa(d), Uncertainty: 0.12, Ripple: 60, State: cycle.OK})
	}
	r.Cylinders[0].Uncertainty = 0
	return &session.Snapshot{Phase: session.Running, LastFrame: noon, Reading: r, Bank: bank.Default(4),
		Zero: session.ZeroState{Zeroed: true}, Journal: session.Journal{Idling: 133}}
}

func newView(s *session.Snapshot) view.View {
	return view.View{Now: noon.Add(40 * time.Millisecond), Snap: s, Bike: "Invented four", Unit: pressure.Kilopascal, Limit: 2.7, Aim: 0.5}
}

// with returns the view of a snapshot that change has changed.
func with(change func(s *session.Snapshot, v *view.View)) view.View {
	s := snapshot()
	v := newView(s)
	change(s, &v)
	return v
}

func advice(kind balance.Kind, why balance.Why) func(s *session.Snapshot, v *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		s.Reading.Advice.Kind, s.Reading.Advice.Why, s.Reading.Advice.Turns = kind, why, math.NaN()
	}
}

// states are the pictures that are kept.
var states = map[string]view.View{
	"turn":    newView(snapshot()),
	"stop":    with(advice(balance.Stop, balance.WhyReached)),
	"reverse": with(advice(balance.Reverse, balance.WhyAway)),
	"wait":    with(advice(balance.Wait, balance.WhyFewCycles)),
	"done":    with(advice(balance.Done, balance.WhyLevel)),
	"fault": with(func(s *session.Snapshot, v *view.View) {
		s.Reading.Advice = balance.Advice{Kind: balance.Fault, Cylinder: 3, Why: balance.WhyChannel}
		s.Reading.Cylinders[2].State = cycle.Ambient
	}),
	"inches": with(func(s *session.Snapshot, v *view.View) { v.Unit = pressure.InchHg }),
	"no-zero": with(func(s *session.Snapshot, v *view.View) {
		s.Zero.Zeroed = false
		advice(balance.Wait, balance.WhyNoZero)(s, v)
	}),
	"zeroing": with(func(s *session.Snapshot, v *view.View) { s.Zero = session.ZeroState{Running: true, Progress: 0.6} }),
	"lost": with(func(s *session.Snapshot, v *view.View) {
		s.Phase = session.Lost
		v.Now = noon.Add(5 * time.Second)
	}),
	"silent": with(func(s *session.Snapshot, v *view.View) { v.Now = noon.Add(1500 * time.Millisecond) }),
	"waiting": with(func(s *session.Snapshot, v *view.View) {
		*s = session.Snapshot{Phase: session.Waiting}
		v.LinkNote = "board: no board found"
	}),
	"practice": with(func(s *session.Snapshot, v *view.View) {
		v.Practice = &view.Practice{Running: true, Screw: 1, Names: []string{"1-2", "3-4", "2-3", "stop"}, Turns: []float64{0.25, 0, 0, 0}}
	}),
	"help": with(func(s *session.Snapshot, v *view.View) { v.Help = true }),
}

func TestGoldenPictures(t *testing.T) {
	for name, v := range states {
		for _, size := range [][2]int{{80, 24}, {120, 40}, {40, 12}} {
			c := NewCanvas(size[0], size[1])
			Draw(c, &v)
			path := filepath.Join("testdata", fmt.Sprintf("%s-%dx%d.txt", name, size[0], size[1]))
			if *update {
				os.MkdirAll("testdata", 0o755)
				if err := os.WriteFile(path, []byte(c.String()), 0o644); err != nil {
					t.Fatal(err)
				}
				continue
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got := c.String(); got != string(want) {
				t.Errorf("%s: got\n%s\nwant\n%s", path, got, want)
			}
		}
	}
}

// The advice takes at least a third of an 80x24 screen.
func TestAdviceIsLarge(t *testing.T) {
	for _, name := range []string{"turn", "stop", "reverse", "wait", "done"} {
		v := states[name]
		c := NewCanvas(80, 24)
		Draw(c, &v)
		rows := 0
		for _, line := range strings.Split(c.String(), "\n") {
			if strings.Contains(line, "█") {
				rows++
			}
		}
		if rows < bigRows {
			t.Errorf("%s: large letters in %d rows:\n%s", name, rows, c)
		}
	}
}

func TestNoSizePanicsAndAsciiIsAscii(t *testing.T) {
	for name, v := range states {
		for w := 0; w <= 130; w += 7 {
			for h := 0; h <= 45; h += 4 {
				c := NewCanvas(w, h)
				c.ASCII = true
				Draw(c, &v)
				for _, r := range c.String() {
					if r > 0x7E {
						t.Fatalf("%s %dx%d: %q is no ASCII", name, w, h, r)
					}
				}
			}
		}
	}
}

// A figure that is not live never looks live: from 0.3 s on nothing is drawn in
// a live role, from 1 s on no figure is drawn at all.
func TestStaleFigures(t *testing.T) {
	for ms := 0; ms <= 3000; ms += 50 {
		v := states["turn"]
		v.Now = noon.Add(time.Duration(ms) * time.Millisecond)
		c := NewCanvas(80, 24)
		Draw(c, &v)
		figures := strings.Contains(c.String(), "25.8")
		if (ms <= 1000) != figures {
			t.Fatalf("at %d ms figures shown: %v\n%s", ms, figures, c)
		}
		for y := 1; y < 20; y++ {
			for x := range 80 {
				cell := c.At(x, y)
				live := cell.Rune != ' ' && (cell.Role == view.Good || cell.Role == view.Strong) && ms <= 1000
				if ms > 300 && live {
					t.Fatalf("at %d ms %q looks live", ms, cell.Rune)
				}
			}
		}
	}
}

func TestZeroRefusalIsShown(t *testing.T) {
	v := with(func(s *session.Snapshot, v *view.View) {
		err := errors.New("channel 2 pulses\x1b[2J")
		*v = view.Update(*v, view.Told{Text: view.Refusal(err), Role: view.Bad})
	})
	c := NewCanvas(80, 24)
	Draw(c, &v)
	if text := c.String(); !strings.Contains(text, "channel 2 pulses.[2J") || strings.Contains(text, "\x1b") {
		t.Errorf("\n%s", text)
	}
}

func BenchmarkDraw(b *testing.B) {
	v := states["turn"]
	b.ReportAllocs()
	c := NewCanvas(120, 40)
	for b.Loop() {
		Draw(c, &v)
	}
}
