package screen

import (
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"

	"evendraw/internal/view"
)

// However fast it comes, a paste arrives whole and in one piece, and the next key is a key again. It is not run beside
// others, as simulated exchanges what makes the screen.
func TestPasteArrivesWhole(t *testing.T) {
	term, s := simulated(t)
	post := func(e tcell.Event) {
		for s.PostEvent(e) != nil { // its queue is full
			runtime.Gosched()
		}
	}
	long := strings.Repeat("quiet ", 30) + "end"
	post(tcell.NewEventPaste(true))
	for _, r := range long {
		if post(tcell.NewEventKey(tcell.KeyRune, r, tcell.ModNone)); r == 't' {
			post(tcell.NewEventKey(tcell.KeyEnter, 0, tcell.ModNone))
		}
	}
	post(tcell.NewEventPaste(false))
	post(tcell.NewEventKey(tcell.KeyRune, 'q', tcell.ModNone))
	if key, want := <-term.Keys(), view.KeyPasted+strings.ReplaceAll(long, "t", "t "); key != want {
		t.Errorf("pasted %q", key)
	}
	if key := <-term.Keys(); key != "q" {
		t.Errorf("then %q", key)
	}
}

// Where the end of a paste is lost, a key later on is a key, and one that steers is at once.
func TestPasteWithoutAnEnd(t *testing.T) {
	t.Parallel()
	letter := tcell.NewEventKey(tcell.KeyRune, 'q', tcell.ModNone)
	for name, c := range map[string]struct {
		last time.Time
		e    tcell.Event
		text string
		took bool
	}{
		"in time":  {letter.When(), letter, "", true},
		"late":     {letter.When().Add(-pasteWait), letter, "ab", false},
		"steering": {letter.When(), tcell.NewEventKey(tcell.KeyCtrlC, 0, tcell.ModNone), "ab", false},
	} {
		t.Run(name, func(t *testing.T) {
			p := paste{on: true, text: []rune("ab"), last: c.last}
			if text, took := p.push(c.e); text != c.text || took != c.took || p.on != c.took {
				t.Errorf("%q, %v, on %v", text, took, p.on)
			}
		})
	}
}
