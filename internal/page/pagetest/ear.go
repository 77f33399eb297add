package pagetest

import (
	"strings"
	"time"
)

// Ear hears what a page says, by the page's own rule: what is being said is said to its end, then
// the newest that came meanwhile; a cut breaks it off.
type Ear struct {
	number          uint64
	saying, pending string
	until           time.Time
}

// Speech takes its time: about 150 words a minute, after the tone.
const (
	toneTime = 200 * time.Millisecond
	wordTime = 400 * time.Millisecond
)

func (e *Ear) begin(now time.Time, text string) {
	e.saying = text
	e.until = now.Add(toneTime + time.Duration(len(strings.Fields(text)))*wordTime)
}

// Hear takes what an event says.
func (e *Ear) Hear(now time.Time, v Voice) {
	if v.Number == e.number {
		return
	}
	e.number = v.Number
	if v.Cut {
		e.saying, e.pending = "", ""
	}
	if e.saying != "" {
		e.pending = v.Text
		return
	}
	e.begin(now, v.Text)
}

// Heard returns an utterance that has been said to its end by now, "" where there is none.
func (e *Ear) Heard(now time.Time) (text string) {
	if e.saying == "" || now.Before(e.until) {
		return ""
	}
	text, e.saying = e.saying, ""
	if e.pending != "" {
		e.begin(now, e.pending)
		e.pending = ""
	}
	return text
}
