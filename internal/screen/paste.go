package screen

import (
	"strings"
	"time"
	"unicode/utf8"

	"evendraw/internal/view"
)

// pasteWait is how long after a letter of a paste the next one comes at most: then its end was lost. Chosen: a
// terminal sends thousands a second.
const pasteWait = time.Second

// mostPasted is how many bytes of a paste are taken. Chosen: a place for text takes fewer.
const mostPasted = 1000

// paste puts together what a terminal says was pasted, so that none of it is taken for keys. Line ends and tabs
// become spaces.
type paste struct {
	on   bool
	text string
	last time.Time // of its last letter
}

// take takes a key, and reports whether it is of the paste: not where the paste's end was lost.
func (p *paste) take(key string, at time.Time) bool {
	switch {
	case key == "", key == view.KeyEnter, key == view.KeyTab:
		key = " "
	case utf8.RuneCountInString(key) > 1:
		return false
	}
	if !p.on || at.Sub(p.last) >= pasteWait {
		return false
	}
	if p.last = at; len(p.text) < mostPasted {
		p.text += key
	}
	return true
}

// end ends the paste and returns it as a key, "" where there was none.
func (p *paste) end() string {
	text := strings.TrimSpace(p.text)
	if *p = (paste{}); text == "" {
		return ""
	}
	return view.KeyPasted + text
}
