package voice

import (
	"evendraw/internal/plain"
	"evendraw/internal/view"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// largeWord is how large words are written in the source: capitals, and perhaps a figure.
var largeWord = regexp.MustCompile(`^[A-Z][A-Z ]+[A-Z?](?: (%d%%|%d|%s|%\.0f s))?$`)

// Each large word in the source of the view and of raisedwords has a row that says how it is spoken, and no row is of a
// word that is gone.
func TestEachLargeWordIsSpoken(t *testing.T) {
	t.Parallel()
	found := map[string]bool{}
	names, _ := filepath.Glob("../view/*.go")
	of, _ := filepath.Glob("../raisedwords/*.go")
	for _, name := range append(names, of...) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if text, _ := strconv.Unquote(lit.Value); largeWord.MatchString(text) {
					figures := strings.NewReplacer("%d%%", "7%", "%d", "7", "%s", "7", "%.0f", "7")
					word, _ := splitFigure(figures.Replace(text))
					found[word] = true
				}
			}
			return true
		})
	}
	for word := range found {
		if _, ok := sayings[word]; !ok {
			t.Errorf("%q has no row", word)
		}
	}
	for word := range sayings {
		if !found[word] {
			t.Errorf("%q is no large word", word)
		}
	}
}

// None that asks for something stands in another: half heard, it is not taken for it.
func TestNoSayingStandsInAnother(t *testing.T) {
	t.Parallel()
	text := func(word string) string {
		if r := sayings[word]; r.text != "" {
			return r.text
		}
		return strings.ToLower(word)
	}
	for a, row := range sayings {
		for b := range sayings {
			if ta, tb := text(a), text(b); row.cue != CueNone && ta != tb && strings.Contains(" "+tb+" ", " "+ta+" ") &&
				a != "LOOK AT" {
				t.Errorf("%q stands in %q", ta, tb)
			}
		}
	}
}

func TestSaying(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		words view.Words
		cue   Cue
		text  string
		cut   bool
	}{
		{view.Words{Big: "1-2", Arrow: -1, Amount: "3/8"}, CueGo, "one-two, anticlockwise, three eighths", false},
		{view.Words{Big: "1-2", Arrow: -1, Amount: "+3/8"}, CueGo, "one-two, anticlockwise, three eighths more", false},
		{view.Words{Big: "2-3", Arrow: 1, Amount: "1 1/4"}, CueGo,
			"two-three, clockwise, one turn and one quarter", false},
		{view.Words{Big: "2-3", Arrow: 1, Amount: "2"}, CueGo, "two-three, clockwise, two turns", false},
		{view.Words{Big: "2-3", Arrow: 1}, CueGo, "two-three, clockwise", false},
		{view.Words{Big: "SLOWER", Arrow: 1}, CueGo, "slower, clockwise", false},
		{view.Words{Big: "STOP"}, CueStop, "stop", true},
		{view.Words{Big: "STOP", Arrow: 1}, CueGo, "STOP, clockwise", false}, // a screw of that name
		{view.Words{Big: "OTHER WAY", Arrow: -1}, CueOther, "other way, anticlockwise", true},
		{view.Words{Big: "LEVEL"}, CueLevel, "level", false},
		{view.Words{Big: "LOOK AT 3"}, CueFault, "look at cylinder three", true},
		{view.Words{Big: "ENGINE OFF 3"}, CueFault, "switch the engine off, look at cylinder three", true},
		{view.Words{Big: "PILOT 2", Arrow: 1, Amount: "1/8"}, CueGo, "pilot screw two, clockwise, one eighth", false},
		{view.Words{Big: "PILOT 3", Arrow: -1, Way: "OUT", Amount: "5/8"}, CueGo,
			"pilot screw three, anticlockwise, out, five eighths", false},
		{view.Words{Big: "IDLE", Arrow: 1, Amount: "1/16"}, CueGo, "idle screw, clockwise, one sixteenth", false},
		{view.Words{Big: "IDLE"}, CueNone, "idle screw", false},
		{view.Words{Big: "HANDS OFF"}, CueOther, "hands away", true},
		{view.Words{Big: "HANDS OFF", Amount: "12 s"}, CueNone, "hands away", false},
		{view.Words{Big: "ZERO 40%"}, CueNone, "zero", false},
		{view.Words{Big: "HOLD 0:03"}, CueGo, "hold the throttle there", false},
		{view.Words{Big: "1053"}, CueNone, "one-zero-five-three", false},
		{view.Words{Big: "left\u202e\x1b", Arrow: 1}, CueGo, "left.., clockwise", false},
	} {
		if s := SayingOf(&c.words); s.Cue != c.cue || s.Text != c.text || s.Cut != c.cut || s.Way != c.words.Arrow {
			t.Errorf("%q: %+v, wants %q", c.words.Big, s, c.text)
		}
	}
}

// News are spoken once; what asks for something is spoken again where it stands, with its newest
// amount, and does not break off anything then.
func TestVoice(t *testing.T) {
	t.Parallel()
	var o Voice
	now := time.Unix(0, 0)
	push := func(after time.Duration, w view.Words) Utterance {
		now = now.Add(after)
		return o.Push(now, &w)
	}
	for i, c := range []struct {
		after  time.Duration
		words  view.Words
		number uint64
		text   string
	}{
		{0, view.Words{Big: "WAIT"}, 1, "wait"},
		{repeatAfter, view.Words{Big: "WAIT"}, 1, "wait"},
		{time.Second, view.Words{Big: "1-2", Arrow: 1, Amount: "3/8"}, 2, "one-two, clockwise, three eighths"},
		{repeatAfter - 1, view.Words{Big: "1-2", Arrow: 1, Amount: "1/4"}, 2, "one-two, clockwise, three eighths"},
		{1, view.Words{Big: "1-2", Arrow: 1, Amount: "1/4"}, 3, "one-two, clockwise, one quarter"},
		{1, view.Words{Big: "1-2", Arrow: -1, Amount: "1/4"}, 4, "one-two, anticlockwise, one quarter"},
		{1, view.Words{Big: "NO BOARD"}, 5, "board is missing"},
		{repeatAfter, view.Words{Big: "NO BOARD"}, 6, "board is missing"},
		{1, view.Words{Big: "LEVEL"}, 7, "level"},
		{repeatAfter, view.Words{Big: "LEVEL"}, 7, "level"},
	} {
		if u := push(c.after, c.words); u.Number != c.number || u.Text != c.text || u.Cut != (c.number == 5) {
			t.Errorf("%d: %+v", i, u)
		}
	}
}

// An amount too small to be measured is spoken as a hair.
func TestAHairIsSpoken(t *testing.T) {
	t.Parallel()
	w := view.Words{Big: "2-3", Arrow: 1, Amount: plain.HairWord}
	if said := SayingOf(&w).Text; !strings.HasSuffix(said, "clockwise, a hair") {
		t.Errorf("%q", said)
	}
}
