package view

import (
	"slices"
	"strings"
	"unicode/utf8"

	"evendraw/internal/garage"
)

// Entry is a line of text being typed.
type Entry struct {
	For          EntryFor
	Prompt, Text string
	name         string // of the bike that is being made
}

// EntryFor is what a line of text is typed for.
type EntryFor int

// What lines are typed for.
const (
	EntryRemark EntryFor = iota
	EntryBikeName
	EntryCylinders
	EntryTurned // of a pilot screw
)

// mostEntry bounds a typed line, in letters. Chosen: fits an 80-column screen.
const mostEntry = 60

// typeKey edits the line being typed.
func (v *View) typeKey(k string) {
	e := *v.Entry
	v.Entry = &e
	switch k {
	case KeyEscape:
		v.Entry = nil
	case KeyEnter:
		v.typed(&e)
	case KeyBackspace:
		_, n := utf8.DecodeLastRuneInString(e.Text)
		e.Text = e.Text[:len(e.Text)-n]
	default:
		if utf8.RuneCountInString(k) == 1 && utf8.RuneCountInString(e.Text) < mostEntry {
			e.Text += k
		}
	}
}

// typed takes a finished line.
func (v *View) typed(e *Entry) {
	v.Entry = nil
	switch e.For {
	case EntryRemark:
		v.Remark = e.Text
		v.note("The remark goes into the next record.", Plain)
	case EntryTurned:
		turns, err := garage.ParseTurns(strings.TrimPrefix(e.Text, "-"))
		if err != nil || e.Text == "" {
			v.note("Not taken: turns are written as 3/4, 0.75 or 1 1/4.", Warn)
			return
		}
		if strings.HasPrefix(e.Text, "-") {
			turns = -turns
		}
		v.want(Want{Kind: TrimCorrect, Turns: turns})
	case EntryBikeName:
		if e.Text != "" {
			v.Entry = &Entry{For: EntryCylinders, Prompt: "How many cylinders, 2 to 4?", name: e.Text}
		}
	case EntryCylinders:
		if !slices.Contains([]string{"2", "3", "4"}, e.Text) {
			v.Entry = &Entry{For: EntryCylinders, Prompt: "2, 3 or 4 cylinders?", name: e.name}
			return
		}
		v.want(Want{Kind: MakeBike, Text: e.name, Cylinders: int(e.Text[0] - '0')})
		v.goTo(StepChecks, true)
	}
}
