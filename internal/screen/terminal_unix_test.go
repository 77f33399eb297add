//go:build unix

package screen

import (
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
)

// typedTty is a terminal at which a text was typed.
type typedTty struct {
	tcell.Tty
	typed *strings.Reader
}

func (t typedTty) Read(p []byte) (int, error) { return t.typed.Read(p) }

// Several Escapes in one piece reach the library as one: with more it would let none through.
func TestEscapesInOnePieceAreOne(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{"\x1b": "\x1b", "\x1b\x1b\x1b": "\x1b", "q\x1b\x1b[Aaa": "q\x1b[Aaa",
		"": ""} {
		p := make([]byte, 64)
		n, _ := oneEscape{typedTty{typed: strings.NewReader(typed)}}.Read(p)
		if got := string(p[:n]); got != want {
			t.Errorf("%q comes as %q, want %q", typed, got, want)
		}
	}
}
