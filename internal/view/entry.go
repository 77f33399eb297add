package view

import (
	"cmp"
	"errors"
	"slices"
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
		low, high, err := parseIdle(e.Text)
		switch {
		case err != nil:
			v.note(err.Error(), Warn)
			v.Entry = &Entry{For: e.For, Prompt: e.Prompt}
		case high > 0:
			v.want(Want{Kind: SetIdle, Low: low, High: high})
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
const idlePrompt = "Idle rpm by the manual; empty is unknown (" + garage.CommonIdle + " is common practice)"

// questions come in the order of their EntryFor.
var questions = map[EntryFor]question{
	EntryCylinders: {"How many cylinders, 2 to 4", offer(""), func(b *garage.Bike, text string) error {
		if !slices.Contains([]string{"2", "3", "4"}, text) {
			return errors.New("2, 3 or 4 cylinders?")
		}
		*b = garage.DefaultBike(b.Name, int(text[0]-'0'))
		return nil
	}},
	EntryFiring: {"Firing order, by the manual",
		func(b *garage.Bike) string { return garage.FormatCylinders(b.Bank.FiringOrder) },
		func(b *garage.Bike, text string) (err error) {
			if b.Bank.FiringOrder, err = garage.ParseCylinders(text); err != nil {
				return err
			}
			return garage.CheckBike(b)
		}},
	EntryScrews: {"Synchronising screws, each with the cylinders that it moves",
		func(b *garage.Bike) string { return garage.FormatScrews(b.Bank.Screws) },
		func(b *garage.Bike, text string) (err error) {
			if b.Bank.Screws, err = garage.ParseScrews(text); err != nil {
				return err
			}
			b.Bank.Root = cmp.Or(garage.RootOf(b.Bank.Cylinders, b.Bank.Screws), b.Bank.Root)
			return garage.CheckBike(b)
		}},
	EntryIdle: {idlePrompt, offer(garage.CommonIdle), func(b *garage.Bike, text string) (err error) {
		b.IdleRPMLow, b.IdleRPMHigh, err = parseIdle(text)
		return err
	}},
	EntryMinutes: {"Minutes that it may idle (5 is a guess without a fan)", offer("5"),
		func(b *garage.Bike, text string) (err error) {
			b.IdlingLimitMin, err = garage.ParseMinutes(text)
			return err
		}},
	EntryNuts: {"Do the synchronising screws have lock nuts, yes or no (most do)", offer("yes"),
		func(b *garage.Bike, text string) (err error) {
			b.Bank.NoLockNuts, err = saysNo(text)
			return err
		}},
	EntryPilots: {"Pilot screws: fuel (out is richer) or air (out is leaner); empty: unknown", offer(""),
		func(b *garage.Bike, text string) error {
			if b.PilotScrews = strings.ToLower(text); !slices.Contains([]string{"", garage.FuelScrews,
				garage.AirScrews}, b.PilotScrews) {
				return errors.New("fuel or air?")
			}
			return nil
		}},
	EntryFan: {"Will a fan blow on the engine, yes or no (f changes it later)", offer("no"),
		func(_ *garage.Bike, text string) (err error) {
			_, err = saysNo(text)
			return err
		}},
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
	if err := questions[e.For].take(&b, text); err != nil {
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
	if no, _ := saysNo(text); !no {
		v.want(Want{Kind: ToggleFan})
	}
	v.finish()
}

// saysNo reads no, yes, or how either begins.
func saysNo(text string) (no bool, err error) {
	if text = strings.ToLower(text); text == "" || !strings.HasPrefix("yes", text) && !strings.HasPrefix("no", text) {
		return false, errors.New("yes or no?")
	}
	return text[0] == 'n', nil
}

// parseIdle reads an idle speed; an empty one is unknown.
func parseIdle(text string) (low, high float64, err error) {
	if strings.TrimSpace(text) == "" {
		return 0, 0, nil
	}
	return garage.ParseIdle(text)
}

// asksIdle reports whether the idle step has to ask for the idle speed.
func (v *View) asksIdle() bool {
	return v.Flow.At == StepIdle && v.Snap != nil && !(v.Snap.Tune.Idle.HighRPM > 0) && !v.mustStop()
}
