package screen

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/uniseg"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// simulated is a Terminal on the library's screen without a terminal.
func simulated(t testing.TB) (*Terminal, tcell.SimulationScreen) {
	t.Helper()
	s := tcell.NewSimulationScreen("UTF-8")
	newScreen, drawable = func() (tcell.Screen, error) { return s, nil }, func() error { return nil }
	defer func() { newScreen, drawable = openScreen, canDraw }()
	term, err := OpenTerminal(Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { term.Close() })
	term.canvas.ASCII = false // whatever the environment says
	return term, s
}

// A console that can't show the picture is told before it is drawn on. It is not run beside others, as it
// exchanges what looks at the console.
func TestOldConsoleIsRefused(t *testing.T) {
	drawable = func() error { return errors.New("too old") }
	defer func() { drawable = canDraw }()
	if term, err := OpenTerminal(Options{}); err == nil || !strings.Contains(err.Error(), "too old") {
		t.Errorf("%v, %v", term, err)
	}
}

// text is what the library shows.
func text(s tcell.SimulationScreen) string {
	cells, w, h := s.GetContents()
	var b strings.Builder
	for y := range h {
		for x := 0; x < w; {
			r := cells[y*w+x].Runes
			b.WriteString(string(r))
			x += max(uniseg.StringWidth(string(r)), 1)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// After a storm of sizes, and of pictures, the screen is that of a fresh draw. It is not run beside
// others, as simulated exchanges what makes the screen.
func TestAfterAStormOfSizesTheScreenIsAFreshDraw(t *testing.T) {
	sizes := effort.Of(40, 1000)
	term, s := simulated(t)
	random := rand.New(rand.NewPCG(3, 4))
	names := []string{"turn", "bike", "waves", "rig", "help", "lost", "alone", "checks"}
	for i := range sizes {
		w, h := 1+random.IntN(500), 1+random.IntN(200)
		if i%2 == 0 { // the usual sizes more often
			w, h = 1+random.IntN(120), 1+random.IntN(40)
		}
		s.SetSize(w, h)
		v := states[names[i%len(names)]]
		term.Show(func(c *Canvas) { Draw(c, &v) })
		if i%20 != 0 && i != sizes-1 {
			continue
		}
		for _, name := range names[:2] { // a change without another size as well
			v := states[name]
			term.Show(func(c *Canvas) { Draw(c, &v) })
			fresh := NewCanvas(w, h)
			Draw(fresh, &v)
			if got, want := trimmed(text(s)), trimmed(fresh.String()); got != want {
				t.Fatalf("%s at %dx%d: shown\n%s\na fresh draw is\n%s", name, w, h, got, want)
			}
		}
	}
}

// However many sizes come before it, a key is not lost, and they are reported as one.
func TestSizesTakeNoKeysPlace(t *testing.T) {
	term, s := simulated(t)
	post := func(e tcell.Event) {
		for s.PostEvent(e) != nil { // its queue is full
			runtime.Gosched()
		}
	}
	for range 1000 {
		post(tcell.NewEventResize(80, 24))
	}
	post(tcell.NewEventKey(tcell.KeyRune, '?', tcell.ModNone))
	if key := <-term.Keys(); key != "?" {
		t.Errorf("the key is %q", key)
	}
	<-term.Resized()
	if len(term.Resized()) != 0 {
		t.Error("the same sizes are reported again")
	}
}

// A presenter's next has a name of its own: beside the engine it confirms, as Enter does.
func TestPresenterConfirms(t *testing.T) {
	if keys := keysOf(tcell.NewEventKey(tcell.KeyPgDn, 0, tcell.ModNone)); keys[0] != view.KeyPageDown {
		t.Errorf("the key is %q", keys)
	}
}

// A key that comes close after Escape is that key, and no other.
func TestAKeyCloseAfterEscape(t *testing.T) {
	const alt, both = tcell.ModAlt, tcell.ModAlt | tcell.ModCtrl
	for _, c := range []struct {
		key  tcell.Key
		r    rune
		mod  tcell.ModMask
		want []string
	}{
		{tcell.KeyRune, 'm', both, []string{view.KeyEscape, view.KeyEnter}},
		{tcell.KeyRune, 'c', both, []string{view.KeyEscape, view.KeyCtrlC}},
		{tcell.KeyRune, 'z', both, []string{view.KeyEscape, view.KeyCtrlZ}},
		{tcell.KeyRune, 'm', alt, []string{view.KeyEscape, "m"}},
		{tcell.KeyRune, 'm', tcell.ModNone, []string{"m"}},
		{tcell.KeyLeft, 0, alt, []string{view.KeyEscape, view.KeyLeft}},
		{tcell.KeyEscape, 0, alt, []string{view.KeyEscape, view.KeyEscape}},
	} {
		if got := keysOf(tcell.NewEventKey(c.key, c.r, c.mod)); !slices.Equal(got, c.want) {
			t.Errorf("%v: %q", c, got)
		}
	}
}

func trimmed(s string) string {
	var b strings.Builder
	for line := range strings.Lines(s) {
		b.WriteString(strings.TrimRight(line, " \n") + "\n")
	}
	return b.String()
}

// contrast is the ratio of WCAG 2.1, with its relative luminance.
func contrast(a, b tcell.Color) float64 {
	luminance := func(c tcell.Color) float64 {
		linear := func(v int32) float64 {
			s := float64(v) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		r, g, bl := c.RGB()
		return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(bl)
	}
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Colours can be read on light and on dark terminals: WCAG 2.1, 1.4.11, asks for 3:1.
func TestColoursShowOnLightAndDark(t *testing.T) {
	t.Parallel()
	white, black := tcell.NewRGBColor(255, 255, 255), tcell.NewRGBColor(0, 0, 0)
	if c := contrast(white, black); math.Abs(c-21) > 1e-9 { // the standard's own largest value
		t.Fatalf("white on black is %g, not 21", c)
	}
	for _, c := range []tcell.Color{bluishGreen, vermilion} {
		if w, b := contrast(c, white), contrast(c, black); w < 3 || b < 3 {
			t.Errorf("%v: %.1f on white, %.1f on black", c, w, b)
		}
	}
}

// Without colours every role but plain text still has a look of its own.
func TestRolesDifferWithoutColour(t *testing.T) {
	t.Parallel()
	looks := map[tcell.Style][]view.Role{}
	for role, s := range styles(true) {
		fg, bg, _ := s.Decompose()
		if role == view.Code { // which can't be scanned without
			if contrast(fg, bg) < 21 {
				t.Errorf("the code is %v on %v", fg, bg)
			}
			continue
		}
		if fg != tcell.ColorDefault || bg != tcell.ColorDefault {
			t.Errorf("role %d has a colour", role)
		}
		looks[s] = append(looks[s], role)
	}
	if len(looks) < 5 { // good news and the figures in hand are both bold
		t.Errorf("only %d looks: %v", len(looks), looks)
	}
}

// Blocks are never reversed: they would take the background's colour.
func TestBlocksShowInEveryRole(t *testing.T) {
	t.Parallel()
	for _, noColor := range []bool{false, true} {
		term := &Terminal{styles: styles(noColor)}
		for role := view.Plain; role <= view.Strong; role++ {
			if _, _, attr := term.style(Cell{'█', role}).Decompose(); attr&tcell.AttrReverse != 0 {
				t.Errorf("role %d: reversed", role)
			}
		}
	}
}

func TestPlainLocale(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		env   map[string]string
		plain bool
	}{
		{map[string]string{}, false},
		{map[string]string{"LANG": "de_DE.UTF-8"}, false},
		{map[string]string{"LANG": "de_DE.utf8"}, false},
		{map[string]string{"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, true},
		{map[string]string{"LC_CTYPE": "en_US.ISO-8859-1", "LANG": "en_US.UTF-8"}, true},
		{map[string]string{"RUNEWIDTH_EASTASIAN": "1", "LANG": "ja_JP.UTF-8"}, true},
	} {
		t.Run(fmt.Sprint(c.env), func(t *testing.T) {
			if got := plainLocale(func(name string) string { return c.env[name] }); got != c.plain {
				t.Errorf("plain %v, want %v", got, c.plain)
			}
		})
	}
}

// The signs that the screen draws are one column wide, in the terminal library's table too.
func TestWidthsOfSigns(t *testing.T) {
	t.Parallel()
	for plainest := range ascii {
		if runeWidth(plainest) != 1 || uniseg.StringWidth(string(plainest)) != 1 {
			t.Errorf("%q is not one column wide", plainest)
		}
	}
}

// A picture of which only figures change: what the screen shows at idle.
func BenchmarkShow(b *testing.B) {
	term, s := simulated(b)
	s.SetSize(120, 40)
	views := [2]view.View{states["turn"], with(func(s *session.Snapshot, v *view.View) {
		s.Reading.RPM, s.Reading.Cylinders[2].Difference = 1061, 3.2
		s.Reading.Advice.Kind = advice.Turn
	})}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		term.Show(func(c *Canvas) { Draw(c, &views[i%2]) })
	}
}
