package screen

import (
	"strings"
	"time"

	"github.com/gdamore/tcell/v2"
)

// pasteWait is how long after a letter of a paste the next one comes at most: then its end was lost. Chosen: a
// terminal sends thousands a second.
const pasteWait = time.Second

// mostPasted is how many letters of a paste are taken. Chosen: a place for text takes fewer.
const mostPasted = 1000

// paste puts together what a terminal says was pasted, so that none of it is taken for keys. Line ends and tabs
// become spaces.
type paste struct {
	on   bool
	text []rune
	last time.Time // of its last letter
}

// push takes an event, and reports whether it is of a paste; text is what was pasted once that has ended, by its
// end or by an event of another kind.
func (p *paste) push(e tcell.Event) (text string, taken bool) {
	switch e := e.(type) {
	case *tcell.EventPaste:
		text = p.end()
		p.on, p.last = e.Start(), e.When()
		return text, true
	case *tcell.EventKey:
		if !p.on {
			return "", false
		}
		if letter := letterOf(e); letter != 0 && e.When().Sub(p.last) < pasteWait {
			if p.last = e.When(); len(p.text) < mostPasted {
				p.text = append(p.text, letter)
			}
			return "", true
		}
		return p.end(), false
	}
	return "", false
}

// end returns what has been pasted, without spaces around it.
func (p *paste) end() string {
	text := strings.TrimSpace(string(p.text))
	p.on, p.text = false, nil
	return text
}

// letterOf is a key of a paste as text, 0 of one that can't be.
func letterOf(e *tcell.EventKey) rune {
	switch e.Key() {
	case tcell.KeyRune:
		return e.Rune()
	case tcell.KeyEnter, tcell.KeyTab, tcell.KeyLF:
		return ' '
	}
	return 0
}
