package plain

import (
	"bytes"
	"encoding/json"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"unicode"
)

// hostile are texts that would do something to a terminal or a page, and what is left of them.
var hostile = map[string]struct{ in, plain, lines string }{
	"clear the screen": {"a\x1b[2Jb", "a.[2Jb", "a.[2Jb"},
	"a link":           {"\x1b]8;;http://x.invalid\a", ".]8;;http://x.invalid.", ".]8;;http://x.invalid."},
	"eight-bit escape": {"a\u009b31mb", "a.31mb", "a.31mb"},
	"no letters":       {"a\x9bb\xff", "a.b.", "a.b."},
	"right to left":    {"ab\u202ecd\u202c", "ab.cd.", "ab.cd."},
	"isolate":          {"\u2066x\u2069\u200f\u061c", ".x...", ".x..."},
	"a false line": {"bike\nevendraw: all is well\r\tx", "bike.evendraw: all is well..x",
		"bike\nevendraw: all is well.\tx"},
	"hidden line end": {"a\u2028b\u0085c", "a.b.c", "a.b.c"},
	"letters": {"Zweizylinder ä, 二気筒, тройка, 🏍 −¼ ±", "Zweizylinder ä, 二気筒, тройка, 🏍 −¼ ±",
		"Zweizylinder ä, 二気筒, тройка, 🏍 −¼ ±"},
	"joined letters": {"क्\u200dष e\u0301", "क्\u200dष e\u0301", "क्\u200dष e\u0301"},
}

func TestPlain(t *testing.T) {
	for name, c := range hostile {
		t.Run(name, func(t *testing.T) {
			if got := Text(c.in); got != c.plain {
				t.Errorf("%q, want %q", got, c.plain)
			}
			if got := Lines(c.in); got != c.lines {
				t.Errorf("in lines %q, want %q", got, c.lines)
			}
		})
	}
}

// All that Unicode calls a control of direction steers (its property Bidi_Control, in Go's
// tables), and no letter, mark, number or sign does.
func TestSteersIsWhatUnicodeSays(t *testing.T) {
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if unicode.Is(unicode.Bidi_Control, r) && !Steers(r) {
			t.Errorf("%U turns the direction of text", r)
		}
		if unicode.In(r, unicode.L, unicode.M, unicode.N, unicode.P, unicode.S) && r != unicode.ReplacementChar &&
			Steers(r) {
			t.Errorf("%U is a letter", r)
		}
	}
}

// However a text is cut into writes, a terminal gets the same, of which nothing steers it; and
// lines of JSON say the same as before.
func TestWriter(t *testing.T) {
	for name, c := range hostile {
		t.Run(name, func(t *testing.T) {
			line, err := json.Marshal(c.in)
			if err != nil {
				t.Fatal(err)
			}
			for what, in := range map[string]string{"text": c.in + "\n", "JSON": string(line) + "\n"} {
				var whole, cut bytes.Buffer
				a, b := NewWriter(&whole), NewWriter(&cut)
				a.Write([]byte(in))
				one := iotest.OneByteReader(strings.NewReader(in))
				for buf := make([]byte, 9); ; {
					n, err := one.Read(buf)
					if err != nil {
						break
					}
					if m, err := b.Write(buf[:n]); m != n || err != nil {
						t.Fatalf("%d, %v", m, err)
					}
				}
				a.Close()
				b.Close()
				if whole.String() != cut.String() {
					t.Errorf("%s: whole %q, cut %q", what, whole.String(), cut.String())
				}
				if i := strings.IndexFunc(strings.ReplaceAll(strings.ReplaceAll(whole.String(), "\n", ""), "\t", ""),
					Steers); i >= 0 {
					t.Errorf("%s: %q steers", what, whole.String())
				}
			}
			var out bytes.Buffer
			w := NewWriter(&out)
			w.Write(line)
			var before, after string
			if json.Unmarshal(line, &before) != nil || json.Unmarshal(out.Bytes(), &after) != nil || before != after {
				t.Errorf("JSON says %q, said %q", after, before)
			}
		})
	}
}

// A letter that never ends is none.
func TestWriterEnds(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out)
	w.Write([]byte("a\xe2\x80"))
	w.Close()
	if out.String() != `a\ufffd` || w.Unwrap() != &out {
		t.Errorf("%q", out.String())
	}
}

// Several goroutines may write.
func TestWriterIsShared(t *testing.T) {
	w := NewWriter(discard{})
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for range 100 {
				w.Write([]byte("ä\x1b\n"))
			}
		})
	}
	all.Wait()
}

func BenchmarkWriter(b *testing.B) {
	line := []byte(strings.Repeat(`{"time_s":1.5,"rpm":1050.25,"spread_kpa":0.25}`, 20) + "\n")
	w := NewWriter(discard{})
	b.SetBytes(int64(len(line)))
	b.ReportAllocs()
	for b.Loop() {
		w.Write(line)
	}
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }

func TestWrap(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{"": "", "one two": "one two", "one two three": "one two\nthree",
		"seven l\n  two more words": "seven l\n  two\n  more\n  words", "averylongword x": "averylongword\nx",
		"averylongword": "averylongword", "äöü äöü äöü": "äöü äöü\näöü", "one two ": "one two\n"} {
		if got := Wrap(text, 7); got != want {
			t.Errorf("%q wrapped as %q, want %q", text, got, want)
		}
	}
}

// What may be pasted is not broken: a quoted name, a path at the end, a command on its own line.
func TestWrapKeepsWhatIsPasted(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		`see "my old four" there`:         "see\n\"my old four\"\nthere",
		`"my old four"`:                   `"my old four"`,
		`5" of it and`:                    "5\" of it\nand",
		"saved /a b/c d":                  "saved\n/a b/c d",
		`wrote it C:\a b`:                 "wrote it\nC:\\a b",
		"/a b: no room there":             "/a b: no\nroom\nthere",
		"kept as /a b; copy it":           "kept as\n/a b;\ncopy it",
		"saved /a b/c d, as it is one":    "saved\n/a b/c d,\nas it is\none",
		"read /a b.cap over and over":     "read\n/a b.cap\nover and\nover",
		"all in /a b/c d from now on":     "all in\n/a b/c d\nfrom now\non",
		"now /a b/c d over /e f":          "now\n/a b/c d over\n/e f",
		"/dev/tty is held by another":     "/dev/tty\nis held\nby\nanother",
		"from /a b, to /c d: all is well": "from\n/a b, to\n/c d:\nall is\nwell",
		"one two\n  evendraw history --x": "one two\n  evendraw history --x",
		"evendraw reads boards":           "evendraw\nreads\nboards",
	} {
		if got := Wrap(text, 8); got != want {
			t.Errorf("%q wrapped as %q, want %q", text, got, want)
		}
	}
}

// Lines that come whole break between words; what began before, prompts and JSON stay.
func TestWriterWraps(t *testing.T) {
	t.Parallel()
	var out strings.Builder
	w := NewWriter(&out)
	w.WrapAt(func() int { return 9 })
	for _, piece := range []string{"one two three\n", "ask: one two ", "more of it\nfour five six\nlast one of",
		" all\n", "{\"a\": 1, \"b\": 2}\n", "öne twö thrée\n"} {
		if n, err := w.Write([]byte(piece)); err != nil || n != len(piece) {
			t.Errorf("%q: %d, %v", piece, n, err)
		}
	}
	want := "one two\nthree\nask: one two more of it\nfour five\nsix\nlast one of all\n{\"a\": 1, \"b\": 2}\n" +
		"öne twö\nthrée\n"
	if out.String() != want {
		t.Errorf("%q, want %q", out.String(), want)
	}
}
