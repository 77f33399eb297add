package view

import (
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

// Each large word in the source of this package has a row that says how it is spoken, and no row is
// of a word that is gone.
func TestEachLargeWordIsSpoken(t *testing.T) {
	t.Parallel()
	found := map[string]bool{}
	names, _ := filepath.Glob("*.go")
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") || name == "spoken.go" {
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
		words Words
		cue   Cue
		text  string
		cut   bool
	}{
		{Words{Big: "1-2", Arrow: -1, Amount: "3/8"}, CueGo, "one-two, anticlockwise, three eighths", false},
		{Words{Big: "2-3", Arrow: 1, Amount: "1 1/4"}, CueGo, "two-three, clockwise, one turn and one quarter", false},
		{Words{Big: "2-3", Arrow: 1, Amount: "2"}, CueGo, "two-three, clockwise, two turns", false},
		{Words{Big: "2-3", Arrow: 1}, CueGo, "two-three, clockwise", false},
		{Words{Big: "SLOWER", Arrow: 1}, CueGo, "slower, clockwise", false},
		{Words{Big: "STOP"}, CueStop, "stop", true},
		{Words{Big: "STOP", Arrow: 1}, CueGo, "STOP, clockwise", false}, // a screw of that name
		{Words{Big: "OTHER WAY", Arrow: -1}, CueOther, "other way, anticlockwise", true},
		{Words{Big: "LEVEL"}, CueLevel, "level", false},
		{Words{Big: "LOOK AT 3"}, CueFault, "look at cylinder three", true},
		{Words{Big: "PILOT 2", Arrow: 1, Amount: "1/8"}, CueGo, "pilot screw two, clockwise, one eighth", false},
		{Words{Big: "PILOT 3", Arrow: -1, Way: "OUT", Amount: "5/8"}, CueGo,
			"pilot screw three, anticlockwise, out, five eighths", false},
		{Words{Big: "IDLE", Arrow: 1, Amount: "1/16"}, CueGo, "idle screw, clockwise, one sixteenth", false},
		{Words{Big: "IDLE"}, CueNone, "idle screw", false},
		{Words{Big: "HANDS OFF"}, CueOther, "hands away", true},
		{Words{Big: "HANDS OFF", Amount: "12 s"}, CueNone, "hands away", false},
		{Words{Big: "ZERO 40%"}, CueNone, "zero", false},
		{Words{Big: "HOLD 3 s"}, CueGo, "hold the throttle there", false},
		{Words{Big: "1053"}, CueNone, "one-zero-five-three", false},
		{Words{Big: "left\u202e\x1b", Arrow: 1}, CueGo, "left.., clockwise", false},
	} {
		if s := c.words.Saying(); s.Cue != c.cue || s.Text != c.text || s.Cut != c.cut || s.Way != c.words.Arrow {
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
	push := func(after time.Duration, w Words) Utterance {
		now = now.Add(after)
		return o.Push(now, &w)
	}
	for i, c := range []struct {
		after  time.Duration
		words  Words
		number uint64
		text   string
	}{
		{0, Words{Big: "WAIT"}, 1, "wait"},
		{repeatAfter, Words{Big: "WAIT"}, 1, "wait"},
		{time.Second, Words{Big: "1-2", Arrow: 1, Amount: "3/8"}, 2, "one-two, clockwise, three eighths"},
		{repeatAfter - 1, Words{Big: "1-2", Arrow: 1, Amount: "1/4"}, 2, "one-two, clockwise, three eighths"},
		{1, Words{Big: "1-2", Arrow: 1, Amount: "1/4"}, 3, "one-two, clockwise, one quarter"},
		{1, Words{Big: "1-2", Arrow: -1, Amount: "1/4"}, 4, "one-two, anticlockwise, one quarter"},
		{1, Words{Big: "NO BOARD"}, 5, "board is missing"},
		{repeatAfter, Words{Big: "NO BOARD"}, 6, "board is missing"},
		{1, Words{Big: "LEVEL"}, 7, "level"},
		{repeatAfter, Words{Big: "LEVEL"}, 7, "level"},
	} {
		if u := push(c.after, c.words); u.Number != c.number || u.Text != c.text || u.Cut != (c.number == 5) {
			t.Errorf("%d: %+v", i, u)
		}
	}
}
