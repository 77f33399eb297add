package card

import (
	"errors"
	"strings"
	"testing"
)

// handEdited is a card as people write them. All names are invented.
const handEdited = `# my own words first
format = 1
name   =   'Invented Three'   # in single quotes
colour = "red"                # a key nobody knows

[[screw]] # left
  moves = [ 1, # the left one
  ]
  name = "1-2"
  effect = 4 # measured in spring
  thread = { pitch = 0.5, left_handed = false }
[[screw]]
name = "2-3"
moves = [3] # the right one
# effect = 99

[service]   # unknown table
date = 2026-05-01
odometer = nan
text = """
[[screw]]
effect = 1
"""
`

// edited is handEdited with one piece of text in the place of another.
func edited(old, now string) string { return strings.Replace(handEdited, old, now, 1) }

// Everything but what was to change stays letter by letter, however lines end.
func TestEditKeepsTheRest(t *testing.T) {
	t.Parallel()
	part := handEdited[:strings.Index(handEdited, "# effect")]
	for name, c := range map[string]struct {
		text string
		ops  []Op
		want string
	}{
		"nothing": {handEdited, nil, handEdited},
		"a value": {handEdited, []Op{Set("screw[0]", "effect", "-3.142")},
			edited("effect = 4 #", "effect = -3.142 #")},
		"a new key": {handEdited, []Op{Set("screw[1]", "effect", "7.5")},
			edited("right one\n", "right one\neffect = 7.5\n")},
		"in the root": {handEdited, []Op{Set("", "lamp", `"on"`)}, edited("knows\n", "knows\nlamp = \"on\"\n")},
		"after another": {handEdited, []Op{SetAfter("format", "lamp", "1")},
			edited("format = 1\n", "format = 1\nlamp = 1\n")},
		"two after one": {handEdited, []Op{SetAfter("format", "a", "1"), SetAfter("format", "b", "2")},
			edited("= 1\n", "= 1\na = 1\nb = 2\n")},
		"a table": {handEdited, []Op{Append("[zero]", []Field{{"a", "[1]"}})}, handEdited +
			"\n[zero]\na = [1]\n"},
		"one more": {handEdited, []Op{Append("[[screw]]", []Field{{"name", "'x'"}})}, handEdited +
			"\n[[screw]]\nname = 'x'\n"},
		"the first gone": {"a = 1\n[[p]]\nx = 1\n\n[[p]]\nx = 2\n", []Op{DropFirst("p", 1)}, "a = 1\n[[p]]\nx = 2\n"},
		"all gone":       {"a = 1\n[[p]]\nx = 1\n\n[[p]]\nx = 2\n", []Op{DropFirst("p", 9)}, "a = 1\n"},
		"none gone":      {handEdited, []Op{DropFirst("screw", -1)}, handEdited},
		"in and out": {"[[p]]\nx = 1\n", []Op{DropFirst("p", 1), Append("[[p]]", []Field{{"x", "2"}})},
			"\n[[p]]\nx = 2\n"},
		"an inline table": {"s = [{n = 1}] # short", []Op{Set("s[0]", "e", "2")}, "s = [{n = 1, e = 2}] # short"},
		"no end of line": {strings.TrimSuffix(part, "\n"), []Op{Set("screw[1]", "effect", "7.5")},
			part + "effect = 7.5"},
		"table at no end": {"a = 1", []Op{Append("[b]", nil)}, "a = 1\n\n[b]\n"},
	} {
		t.Run(name, func(t *testing.T) {
			for ending, in := range map[string]func(string) string{
				"lines":   func(s string) string { return s },
				"windows": func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") },
				"mark":    func(s string) string { return byteOrderMark + s },
			} {
				if ending == "windows" && !strings.Contains(c.text, "\n") {
					continue // nothing tells that its lines end so
				}
				card, err := Parse([]byte(in(c.text)))
				if err != nil {
					t.Fatal(err)
				}
				if got, err := card.Edit(c.ops...); err != nil || string(got) != in(c.want) {
					t.Errorf("%s: got %v\n%s\nwant\n%s", ending, err, got, in(c.want))
				}
			}
		})
	}
}

// What can't be done without changing more is refused.
func TestEditRefuses(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		text string
		op   Op
	}{
		"no such table":         {handEdited, Set("zero", "a", "1")},
		"no such entry":         {handEdited, Set("screw[2]", "a", "1")},
		"no value":              {handEdited, Set("", "colour", "red")},
		"a value with a remark": {handEdited, Set("", "colour", "1 # red\nx = 2")},
		"an empty inline table": {"s = {}", Set("s", "a", "1")},
		"inline tables dropped": {"p = [{x = 1}]", DropFirst("p", 1)},
		"more of inline tables": {"p = [{x = 1}]", Append("[[p]]", nil)},
		"a table twice":         {handEdited, Append("[service]", nil)},
	} {
		t.Run(name, func(t *testing.T) {
			card, err := Parse([]byte(c.text))
			if err != nil {
				t.Fatal(err)
			}
			if text, err := card.Edit(c.op); !errors.Is(err, ErrUnverified) || text != nil {
				t.Errorf("got %v and %q", err, text)
			}
		})
	}
}

// The look at the changed text is a net below the editing: here it falls.
func TestEditIsVerified(t *testing.T) {
	t.Parallel()
	for name, slip := range map[string][2]string{
		"nothing":            {"", ""},
		"the value":          {"effect = 4 #", "effect = 5 #"},
		"not a number":       {"odometer = nan", "odometer = 1"},
		"an inline table":    {"pitch = 0.5", "pitch = 0.6"},
		"a key is gone":      {"colour = \"red\"", ""},
		"a name":             {"'Invented Three'", "'Invented 3'"},
		"another screw":      {"moves = [3]", "moves = [2]"},
		"a remark that says": {"# effect = 99", "effect = 99"},
		"a day":              {"2026-05-01", "2026-05-02"},
		"broken":             {"format = 1", "format = 1 ["},
	} {
		t.Run(name, func(t *testing.T) {
			card, err := Parse([]byte(handEdited))
			if err != nil {
				t.Fatal(err)
			}
			text, err := card.Edit(Set("screw[0]", "effect", "5"), func(e *edit) {
				if from := strings.Index(handEdited, slip[0]); name == "the value" {
					e.changes = nil // it stays 4
				} else if name != "nothing" {
					e.changes = append(e.changes, change{from, from + len(slip[0]), slip[1]})
				}
			})
			if (err == nil) != (name == "nothing") || err != nil && (!errors.Is(err, ErrUnverified) || text != nil) {
				t.Errorf("got %v and\n%s", err, text)
			}
		})
	}
}

// Whatever the text, an edit is refused, or the text says the same but for the one key, which a
// second edit changes back.
func FuzzEdit(f *testing.F) {
	f.Add([]byte(handEdited), "colour")
	f.Add([]byte("a = 1\r\nb = [{c = 2}]\r\n[d.e]\r\nf.g = 3"), "b")
	f.Add([]byte("\"a b\".c = 1"), "a b")
	f.Fuzz(func(t *testing.T, text []byte, key string) {
		card, err := Parse(text)
		if err != nil {
			return
		}
		changed, err := card.Edit(Set("", key, "'changed'"), Append("[[added]]", []Field{{"x", "1"}}))
		if err != nil {
			if !errors.Is(err, ErrUnverified) {
				t.Errorf("got %v", err)
			}
			return
		}
		again, err := Parse(changed)
		if err != nil || again.tree[key] != "changed" {
			t.Fatalf("%v, %q in\n%s", err, again.tree[key], changed)
		}
		delete(again.tree, key)
		delete(card.tree, key)
		list := again.tree["added"].([]any)
		if again.tree["added"] = list[:len(list)-1]; len(list) == 1 {
			delete(again.tree, "added")
		}
		if !same(again.tree, card.tree) {
			t.Errorf("got\n%s\nof\n%s", changed, text)
		}
	})
}
