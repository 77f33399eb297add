package screen

import (
	"context"
	"fmt"
	"html"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gdamore/tcell/v2"

	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// Of the README's film, all chosen.
const (
	filmSeed  = 3  // of the practice engine
	filmSpeed = 2  // how much faster than life it runs
	filmStill = 10 // the second that is seen where nothing moves
	filmEnd   = 4  // seconds from level to the end
	filmMost  = 200
	lookEvery = 0.05 // seconds from picture to picture of the program
)

// film has the virtual mechanic level a practice engine, and returns what is on the screen each second.
func film(t *testing.T) (stills []*Canvas) {
	t.Helper()
	p := practice.New(practice.Options{Name: practice.Fresh, Seed: filmSeed, Aim: 0.5})
	if err := p.Prepare(); err != nil {
		t.Fatal(err)
	}
	cfg := p.Config() // and the sensors as after a match pass
	cfg.Setup.Gains, cfg.MatchUncertainty = p.Engine.SensorGains(), []float64{0.001, 0.001, 0.001, 0.001}
	sess := session.New(cfg, session.Options{})
	v := view.View{Now: noon, Snap: sess.Snapshot(), Unit: pressure.Kilopascal, Aim: 0.5, Limit: 2.7}
	p.Describe(&v)
	v = v.StartAt(view.StepLevel)
	m := p.Mechanic()
	begun := p.Engine.Truth().TimeS
	for left := filmEnd; left > 0 && len(stills) < filmMost; {
		for end := p.Engine.Truth().TimeS + 1; p.Engine.Truth().TimeS < end; {
			sess.Run(context.Background(), upTo(p, p.Engine.Truth().TimeS+lookEvery))
			snap := *sess.Snapshot()
			snap.Phase = session.Running
			snap.LastFrame = noon.Add(time.Duration((p.Engine.Truth().TimeS - begun) * float64(time.Second)))
			snap.HeatAt = snap.LastFrame
			v = view.Update(view.Update(v, view.Tick{Now: snap.LastFrame, Snap: &snap}), p.State())
			if r := snap.Reading; r != nil {
				m.Step(snap.Link.LastTime, &r.Advice)
			}
		}
		if v.Flow.At > view.StepBlip {
			left--
		}
		c := NewCanvas(80, 24)
		Draw(c, &v)
		stills = append(stills, c)
	}
	return stills
}

// upTo is what a practice engine sends until a time of its own.
func upTo(p *practice.Bike, end float64) io.Reader {
	return reader(func(b []byte) (int, error) {
		if p.Engine.Truth().TimeS >= end {
			return 0, io.EOF
		}
		return p.Engine.Read(b[:min(len(b), 240)]) // ten frames
	})
}

type reader func([]byte) (int, error)

func (r reader) Read(b []byte) (int, error) { return r(b) }

func hex(c tcell.Color) string { return fmt.Sprintf("#%06x", c.Hex()) }

// Of the picture: the size of a cell, and the classes of roles.
const wide, tall = 8.4, 17

var classes = map[view.Role]string{view.Plain: "p", view.Dim: "d", view.Strong: "s", view.Good: "g", view.Warn: "w",
	view.Bad: "w"}

// filmSVG shows pictures one after the other, for ever. A row is drawn once for as long as it stands.
func filmSVG(title string, stills []*Canvas) string {
	size := stills[0]
	var b strings.Builder
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %.0f %d\" font-family=\"monospace\" "+
		"font-size=\"14\" xml:space=\"preserve\">\n<title>%s</title>\n", wide*float64(size.Width)+16,
		tall*size.Height+16, html.EscapeString(title))
	fmt.Fprintf(&b, "<style>.p{fill:#d8d8d8}.d{fill:#888}.s{fill:#fff}.g{fill:%s}.w{fill:%s}</style>\n",
		hex(bluishGreen), hex(vermilion))
	b.WriteString("<rect width=\"100%\" height=\"100%\" fill=\"#101418\"/>\n")
	n := len(stills)
	for y := range size.Height {
		for from := 0; from < n; {
			row := rowSVG(stills[from], y)
			to := from + 1
			for to < n && rowSVG(stills[to], y) == row {
				to++
			}
			if row != "" {
				b.WriteString("<g" + seenFrom(from, to, n) + row + "</g>\n")
			}
			from = to
		}
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// seenFrom is how a group is seen from one second of the film to another, of n.
func seenFrom(from, to, n int) string {
	if from == 0 && to == n {
		return ">"
	}
	hidden := " visibility=\"hidden\""
	if from <= filmStill && filmStill < to {
		hidden = ""
	}
	begin, end := float64(from)/float64(n), float64(to)/float64(n)
	values, times := "hidden;visible;hidden", fmt.Sprintf("0;%.4f;%.4f", begin, end)
	switch {
	case from == 0:
		values, times = "visible;hidden", fmt.Sprintf("0;%.4f", end)
	case to == n:
		values, times = "hidden;visible", fmt.Sprintf("0;%.4f", begin)
	}
	return fmt.Sprintf("%s><animate attributeName=\"visibility\" dur=\"%.1fs\" repeatCount=\"indefinite\" "+
		"calcMode=\"discrete\" values=\"%s\" keyTimes=\"%s\"/>", hidden, float64(n)/filmSpeed, values, times)
}

// rowSVG is a row of a canvas: the blocks of one role as one path, letters of one role as one text.
func rowSVG(c *Canvas, y int) string {
	var b strings.Builder
	bars := map[string]string{}
	for x := 0; x < c.Width; {
		first, end := c.At(x, y), x+1
		for end < c.Width && (alike(first, c.At(end, y)) || first.Rune != ' ' && first.Rune != '█' &&
			c.At(end, y).Rune == ' ' && end+1 < c.Width && alike(first, c.At(end+1, y))) { // a space between words
			end++
		}
		left, width, class := 8+wide*float64(x), wide*float64(end-x), classes[first.Role]
		switch first.Rune {
		case ' ':
		case '█':
			bars[class] += fmt.Sprintf("M%.1f,%dh%.1fv%dh-%.1fz", left, 8+tall*y, width, tall, width)
		default:
			text := ""
			for i := x; i < end; i++ {
				text += string(c.At(i, y).Rune)
			}
			fmt.Fprintf(&b, "<text class=\"%s\" x=\"%.1f\" y=\"%d\" textLength=\"%.1f\">%s</text>", class, left,
				8+tall*y+13, width, html.EscapeString(text))
		}
		x = end
	}
	for _, class := range slices.Sorted(maps.Keys(bars)) {
		fmt.Fprintf(&b, "<path class=\"%s\" d=\"%s\"/>", class, bars[class])
	}
	return b.String()
}

// alike reports whether two cells are drawn in one piece.
func alike(a, b Cell) bool {
	return a.Role == b.Role && (a.Rune == '█') == (b.Rune == '█') && (a.Rune == ' ') == (b.Rune == ' ')
}

// The README's film is what the program shows.
func TestReadmeFilm(t *testing.T) {
	t.Parallel()
	const path = "../../testdata/levelling.svg"
	got := ""
	synctest.Test(t, func(t *testing.T) { // a machine that is slow lets no idling pass beside the engine's own
		got = filmSVG("A practice engine is levelled, twice as fast as in life", film(t))
	})
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if want, err := os.ReadFile(path); err != nil || string(want) != got {
		t.Errorf("%s is out of date (%v): go test ./internal/screen -run ReadmeFilm -update", path, err)
	}
}
