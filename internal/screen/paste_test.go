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

// Where the end of a paste is lost, a key later on is a key, and a control key is one at once.
func TestPasteWithoutAnEnd(t *testing.T) {
	t.Parallel()
	now := time.Now()
	for name, c := range map[string]struct {
		key  string
		at   time.Time
		took bool
	}{
		"in time":  {"q", now, true},
		"line end": {view.KeyEnter, now, true},
		"late":     {"q", now.Add(pasteWait), false},
		"control":  {view.KeyCtrlC, now, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := paste{on: true, text: "ab", last: now}
			if took := p.take(c.key, c.at); took != c.took {
				t.Errorf("taken: %v", took)
			}
			if key := p.end(); !strings.HasPrefix(key, view.KeyPasted+"ab") || p.on || p.end() != "" {
				t.Errorf("ends as %q, %+v", key, p)
			}
		})
	}
}
