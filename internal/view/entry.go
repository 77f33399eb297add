package view

import (
	"cmp"
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
			v.Entry = &Entry{For: EntryCylinders, Prompt: "How many cylinders, 2 to 4?",
				making: &garage.Bike{Name: e.Text}}
		}
	case EntryCylinders, EntryFiring, EntryScrews:
		v.typedBank(e)
	case EntryIdle, EntryIdleOnly:
		v.typedIdle(e)
	case EntryMinutes:
		minutes, err := garage.ParseMinutes(e.Text)
		if err != nil {
			v.note(err.Error(), Warn)
			v.Entry = &Entry{For: EntryMinutes, Prompt: minutesPrompt, making: e.making}
			return
		}
		e.making.IdlingLimitMin = minutes
		v.Entry = &Entry{For: EntryNuts, Prompt: nutsPrompt, Text: "yes", making: e.making}
	case EntryNuts, EntryPilots, EntryFan:
		v.typedChoice(e)
	}
}

// typedBank takes what a bike's bank is like, and asks on.
func (v *View) typedBank(e *Entry) {
	b := e.making
	again := func(why string) {
		v.note(why, Warn)
		v.Entry = &Entry{For: e.For, Prompt: e.Prompt, Text: e.Text, making: b}
	}
	switch e.For {
	case EntryCylinders:
		if !slices.Contains([]string{"2", "3", "4"}, e.Text) {
			v.Entry = &Entry{For: EntryCylinders, Prompt: "2, 3 or 4 cylinders?", making: b}
			return
		}
		*b = garage.DefaultBike(b.Name, int(e.Text[0]-'0'))
		v.Entry = &Entry{For: EntryFiring, Prompt: firingPrompt, Text: garage.FormatCylinders(b.Bank.FiringOrder),
			offered: true, making: b}
	case EntryFiring:
		order, err := garage.ParseCylinders(e.Text)
		tried := *b
		if tried.Bank.FiringOrder = order; err == nil {
			err = garage.CheckBike(&tried)
		}
		if err != nil {
			again(err.Error())
			return
		}
		*b = tried
		v.Entry = &Entry{For: EntryScrews, Prompt: screwsPrompt, Text: garage.FormatScrews(b.Bank.Screws),
			offered: true, making: b}
	case EntryScrews:
		screws, err := garage.ParseScrews(e.Text)
		tried := *b
		tried.Bank.Screws = screws
		tried.Bank.Root = cmp.Or(garage.RootOf(b.Bank.Cylinders, screws), b.Bank.Root)
		if err == nil {
			err = garage.CheckBike(&tried)
		}
		if err != nil {
			again(err.Error())
			return
		}
		*b = tried
		v.Entry = &Entry{For: EntryIdle, Prompt: idlePrompt, Text: garage.CommonIdle, offered: true, making: b}
	}
}

// What is asked of a bike, with what is common practice, or a guess, to take or to type over.
const (
	firingPrompt  = "Firing order, by the manual"
	screwsPrompt  = "Synchronising screws, each with the cylinders that it moves"
	idlePrompt    = "Idle rpm by the manual; empty is unknown (" + garage.CommonIdle + " is common practice)"
	minutesPrompt = "Minutes that it may idle (5 is a guess without a fan)"
	usualMinutes  = "5"
	nutsPrompt    = "Do the synchronising screws have lock nuts, yes or no (most do)"
	pilotsPrompt  = "Pilot screws: fuel (out is richer) or air (out is leaner); empty: unknown"
	fanPrompt     = "Will a fan blow on the engine, yes or no (f changes it later)"
)

// typedChoice takes an answer to a question of few words, and asks on; the last one makes the bike.
func (v *View) typedChoice(e *Entry) {
	text := strings.ToLower(strings.TrimSpace(e.Text))
	yes, no := text != "" && strings.HasPrefix("yes", text), text != "" && strings.HasPrefix("no", text)
	switch {
	case e.For == EntryNuts && (yes || no):
		e.making.Bank.NoLockNuts = no
		v.Entry = &Entry{For: EntryPilots, Prompt: pilotsPrompt, making: e.making}
	case e.For == EntryPilots && (text == "" || text == garage.FuelScrews || text == garage.AirScrews):
		e.making.PilotScrews = text
		v.Entry = &Entry{For: EntryFan, Prompt: fanPrompt, Text: "no", making: e.making}
	case e.For == EntryFan && (yes || no):
		v.want(Want{Kind: MakeBike, Card: e.making})
		if yes {
			v.want(Want{Kind: ToggleFan})
		}
		v.finish()
	default:
		v.Entry = &Entry{For: e.For, Prompt: e.Prompt, making: e.making}
	}
}

// typedIdle takes an idle speed; an empty one is unknown.
func (v *View) typedIdle(e *Entry) {
	var low, high float64
	if strings.TrimSpace(e.Text) != "" {
		var err error
		if low, high, err = garage.ParseIdle(e.Text); err != nil {
			v.note(err.Error(), Warn)
			v.Entry = &Entry{For: e.For, Prompt: idlePrompt, making: e.making}
			return
		}
	}
	switch {
	case e.For == EntryIdle:
		e.making.IdleRPMLow, e.making.IdleRPMHigh = low, high
		v.Entry = &Entry{For: EntryMinutes, Prompt: minutesPrompt, Text: usualMinutes, offered: true,
			making: e.making}
	case high > 0:
		v.want(Want{Kind: SetIdle, Low: low, High: high})
	default:
		v.finish()
	}
}

// asksIdle reports whether the idle step has to ask for the idle speed.
func (v *View) asksIdle() bool {
	return v.Flow.At == StepIdle && v.Snap != nil && !(v.Snap.Tune.Idle.HighRPM > 0) && !v.mustStop()
}
