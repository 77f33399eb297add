package view

import (
	"strings"
	"unicode/utf8"

	"evendraw/internal/bikeform"
	"evendraw/internal/garage"
	"evendraw/internal/pilotwords"
)

// Entry is a line of text being typed.
type Entry struct {
	For          EntryFor
	Prompt, Text string
	offered      bool         // Text is the program's: what is typed takes its place
	making       *garage.Bike // the bike that is being made
	question     int          // which of questions is asked about it
	number       int          // of the turn that is asked about
}

// EntryFor is what a line of text is typed for.
type EntryFor int

// What lines are typed for.
const (
	EntryRemark EntryFor = iota
	EntryBikeName
	EntryBike     // an answer about a bike that is being made
	EntryFan      // whether a fan blows on it
	EntryIdleOnly // the idle speed, of the bike in use
	EntryTurned   // of a pilot screw
	EntryFolder   // that takes the records
)

// mostEntry bounds a typed line, in letters. Chosen: a remark of three lines; the screen shows the end of it.
const mostEntry = 240

// KeyPasted stands before a text that was pasted in one piece: it is text where text is typed, and no keys.
const KeyPasted = "pasted "

// types types a key or what was pasted, and reports whether k is for that.
func (v *View) types(k string) bool {
	keys := []string{k}
	text, pasted := strings.CutPrefix(k, KeyPasted)
	if pasted {
		keys = strings.Split(text, "")
	}
	typing := v.Entry != nil
	for _, key := range keys {
		if v.Entry != nil {
			v.typeKey(key)
		}
	}
	return typing || pasted
}

// typeKey edits the line being typed.
func (v *View) typeKey(k string) {
	e := *v.Entry
	v.Entry = &e
	offered := e.offered
	e.offered = false
	switch k {
	case KeyEscape:
		v.Entry = nil
	case KeyEnter:
		v.typed(&e)
	case KeyBackspace:
		_, n := utf8.DecodeLastRuneInString(e.Text)
		e.Text = e.Text[:len(e.Text)-n]
	default:
		if offered && utf8.RuneCountInString(k) == 1 {
			e.Text = ""
		}
		if utf8.RuneCountInString(k) == 1 && utf8.RuneCountInString(e.Text) < mostEntry {
			e.Text += k
		}
	}
}

// askTurn asks how far a turn of a pilot screw was made, and reports whether the step is of that.
func (v *View) askTurn() bool {
	t := v.snap().Tune.Trim
	if v.Flow.At != StepPilots || t == nil {
		return false
	}
	if t.Last.Of == 0 {
		v.note("No turn of a pilot screw is told yet.", Plain)
		return true
	}
	prompt, number := pilotwords.AskTurn(t)
	v.Entry = &Entry{For: EntryTurned, Prompt: prompt, number: number}
	return true
}

// typed takes a finished line.
func (v *View) typed(e *Entry) {
	v.Entry = nil
	switch e.For {
	case EntryRemark:
		v.Remark, v.Flow.records = e.Text, len(v.Records) // none of which holds it
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
		v.want(Want{Kind: TrimCorrect, Number: e.number, Turns: turns})
	case EntryFolder:
		if e.Text != "" {
			v.want(Want{Kind: UseFolder, Text: e.Text})
			v.Entry, e.offered = e, true // until a folder has taken them
		}
	case EntryBikeName:
		if e.Text != "" {
			v.ask(0, &garage.Bike{Name: e.Text})
		}
	case EntryIdleOnly:
		switch low, high, err := bikeform.ParseIdle(e.Text); {
		case err != nil:
			v.note(err.Error(), Warn)
			v.Entry = &Entry{For: e.For, Prompt: e.Prompt}
		case high > 0:
			v.want(Want{Kind: SetIdle, Low: low, High: high})
		default:
			v.finish()
		}
	case EntryBike:
		v.typedAnswer(e)
	case EntryFan:
		v.typedFan(e)
	}
}

// questions are those about a bike that is being made, one after another.
var questions = []bikeform.Question{bikeform.AskCylinders, bikeform.AskFiring, bikeform.AskScrews, bikeform.AskIdle,
	bikeform.AskMinutes, bikeform.AskNuts, bikeform.AskPilots}

// ask asks question n about the bike that is being made; behind them one whose answer goes on no card.
func (v *View) ask(n int, b *garage.Bike) {
	v.Entry = &Entry{For: EntryFan, Prompt: "Will a fan blow on the engine, yes or no (f changes it later)", Text: "no",
		offered: true, making: b}
	if n < len(questions) {
		q := &questions[n]
		v.Entry = &Entry{For: EntryBike, question: n, Prompt: q.Text, Text: q.Usual(b), offered: true, making: b}
	}
}

// typedAnswer takes an answer about the bike that is being made, and asks on. One that does not fit is asked for again.
func (v *View) typedAnswer(e *Entry) {
	b := *e.making
	if err := questions[e.question].Answer(&b, strings.TrimSpace(e.Text)); err != nil {
		v.askAgain(e, err)
		return
	}
	v.ask(e.question+1, &b)
}

// typedFan takes whether a fan blows, and makes the bike.
func (v *View) typedFan(e *Entry) {
	fan, err := bikeform.SaysYes(strings.TrimSpace(e.Text))
	if err != nil {
		v.askAgain(e, err)
		return
	}
	v.want(Want{Kind: MakeBike, Card: e.making})
	if fan {
		v.want(Want{Kind: ToggleFan})
	}
	v.finish()
}

// askAgain asks for what was answered so that it can't be taken.
func (v *View) askAgain(e *Entry, err error) {
	v.note(err.Error(), Warn)
	v.Entry, e.offered = e, true
}

// asksIdle reports whether the idle step has to ask for the idle speed.
func (v *View) asksIdle() bool {
	return v.Flow.At == StepIdle && v.Snap != nil && !(v.Snap.Tune.Idle.HighRPM > 0) && !v.mustStop()
}
