package view

import (
	"strings"
	"unicode/utf8"

	"evendraw/internal/garage"
)

// Entry is a line of text being typed.
type Entry struct {
	For          EntryFor
	Prompt, Text string
	offered      bool         // Text is the program's: what is typed takes its place
	making       *garage.Bike // the bike that is being made
}

// EntryFor is what a line of text is typed for.
type EntryFor int

// What lines are typed for.
const (
	EntryRemark EntryFor = iota
	EntryBikeName
	EntryCylinders
	EntryFiring
	EntryScrews
	EntryIdle     // the idle speed, of a bike that is being made
	EntryMinutes  // how long it may idle
	EntryNuts     // whether the synchronising screws have lock nuts
	EntryPilots   // which kind the pilot screws are
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
	case EntryFolder:
		if e.Text != "" {
			v.want(Want{Kind: UseFolder, Text: e.Text})
		}
	case EntryBikeName:
		if e.Text != "" {
			v.ask(EntryCylinders, &garage.Bike{Name: e.Text})
		}
	case EntryIdleOnly:
		var b garage.Bike
		switch err := b.TakeIdle(e.Text); {
		case err != nil:
			v.note(err.Error(), Warn)
			v.Entry = &Entry{For: e.For, Prompt: e.Prompt}
		case b.IdleRPMHigh > 0:
			v.want(Want{Kind: SetIdle, Low: b.IdleRPMLow, High: b.IdleRPMHigh})
		default:
			v.finish()
		}
	default:
		v.typedAnswer(e)
	}
}

// question is one about a bike that is being made, with what is common practice, or a guess, to take or to type over.
type question struct {
	prompt string
	usual  func(b *garage.Bike) string
	take   func(b *garage.Bike, text string) error
}

// idlePrompt asks for an idle speed.
const idlePrompt = "Idle rpm by the manual; empty is unknown (" + garage.CommonIdle + " is usual)"

// questions come in the order of their EntryFor.
var questions = map[EntryFor]question{
	EntryCylinders: {"How many cylinders, 2 to 4", offer("4"), (*garage.Bike).TakeCylinders},
	EntryFiring: {"Firing order, by the manual",
		func(b *garage.Bike) string { return garage.FormatCylinders(b.Bank.FiringOrder) },
		(*garage.Bike).TakeFiringOrder},
	EntryScrews: {"Synchronising screws, each with the cylinders that it moves",
		func(b *garage.Bike) string { return garage.FormatScrews(b.Bank.Screws) }, (*garage.Bike).TakeScrews},
	EntryIdle:    {idlePrompt, offer(garage.CommonIdle), (*garage.Bike).TakeIdle},
	EntryMinutes: {"Minutes that it may idle (5 is a guess without a fan)", offer("5"), (*garage.Bike).TakeMinutes},
	EntryNuts: {"Do the synchronising screws have lock nuts, yes or no (most do)", offer("yes"),
		(*garage.Bike).TakeNuts},
	EntryPilots: {"Pilot screws: fuel (out is richer) or air (out is leaner); empty: unknown", offer(""),
		(*garage.Bike).TakePilots},
	EntryFan: {"Will a fan blow on the engine, yes or no (f changes it later)", offer("no"),
		func(_ *garage.Bike, text string) error { _, err := garage.SaysYes(text); return err }},
}

// offer offers the same for every bike.
func offer(text string) func(*garage.Bike) string { return func(*garage.Bike) string { return text } }

// ask asks a question about the bike that is being made.
func (v *View) ask(what EntryFor, b *garage.Bike) {
	q := questions[what]
	v.Entry = &Entry{For: what, Prompt: q.prompt, Text: q.usual(b), offered: true, making: b}
}

// typedAnswer takes an answer about the bike that is being made, and asks on; the last one makes the bike. One that
// does not fit is asked for again.
func (v *View) typedAnswer(e *Entry) {
	b, text := *e.making, strings.TrimSpace(e.Text)
	err := questions[e.For].take(&b, text)
	if err == nil {
		err = garage.CheckBike(&b)
	}
	if err != nil {
		v.note(err.Error(), Warn)
		v.Entry = e
		e.offered = true
		return
	}
	if e.For < EntryFan {
		v.ask(e.For+1, &b)
		return
	}
	v.want(Want{Kind: MakeBike, Card: &b})
	if fan, _ := garage.SaysYes(text); fan {
		v.want(Want{Kind: ToggleFan})
	}
	v.finish()
}

// asksIdle reports whether the idle step has to ask for the idle speed.
func (v *View) asksIdle() bool {
	return v.Flow.At == StepIdle && v.Snap != nil && !(v.Snap.Tune.Idle.HighRPM > 0) && !v.mustStop()
}
