package benchform

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/view"
)

// Form is the state of the form that a bench card is filled in with: a table of settings by carburettor, and remarks
// below. It is plain data; Update gives the next state.
type Form struct {
	Bike string
	Card garage.BenchCard
	// Before is the card before this one, nil without: its values are shown in brackets.
	Before *garage.BenchCard
	// Row and Column are where the cursor is: rows are the settings; then one with the remarks on each carburettor and,
	// after them, on the bank; then one with what can be done: save, change the moment, leave.
	Row, Column int
	// Text is what is being typed, while Editing.
	Text    string
	Editing bool
	// Offered is set while that is the last card's value, which nobody has typed.
	Offered bool
	// Problem says what is wrong with what was typed, "" nothing.
	Problem string
	// Asked is set when leaving would lose what was typed.
	Asked bool
	// Changed is set once anything was filled in.
	Changed bool
	// Help is the paragraph that the page behind the question mark begins with, from 1; 0 while it is closed.
	Help int
	// Done is set when the form is left, Save when the card is to be saved, Interrupted when it was left by Ctrl-C.
	Done, Save, Interrupted bool
}

// mostTyped bounds what is typed into one place. Chosen: a short remark.
const mostTyped = 200

// New returns a form for a card, the cursor on the first pilot screw.
func New(bike string, card garage.BenchCard) Form {
	return Form{Bike: bike, Card: card}
}

// noteRow is the row of the remarks.
func (f *Form) noteRow() int { return len(garage.Fields()) }

// doRow is the row of what can be done.
func (f *Form) doRow() int { return f.noteRow() + 1 }

// Places of the row of what can be done.
const (
	doSave = iota
	doMoment
	doLeave
	doPlaces
)

// bankTexts is how many texts are of the whole bank, after those of the carburettors.
const bankTexts = 4

// bankText is the text of the whole bank in that column of the remarks' row, and its name.
func (f *Form) bankText(column int) (text *string, name string) {
	switch column - len(f.Card.Carburettors) {
	case 0:
		return &f.Card.ScrewsFound, "synchronising screws, as found: "
	case 1:
		return &f.Card.StopFound, "throttle stop, as found: "
	case 2:
		return &f.Card.ToOrder, "parts to order: "
	}
	return &f.Card.Note, "on the bank: "
}

// columns is how many places the row of the cursor has.
func (f *Form) columns() int {
	switch f.Row {
	case f.noteRow():
		return len(f.Card.Carburettors) + bankTexts
	case f.doRow():
		return doPlaces
	}
	return len(f.Card.Carburettors)
}

// inField reports whether the cursor is in the row of one of the settings.
func (f *Form) inField(fields ...string) bool {
	return f.Row < f.noteRow() && slices.Contains(fields, garage.Fields()[f.Row])
}

// takesLetters reports whether letters are text where the cursor is.
func (f *Form) takesLetters() bool {
	return f.Row == f.noteRow() || f.inField(garage.FieldMainJet, garage.FieldPilotJet, garage.FieldNeedle)
}

// page is Update while the page of help is shown: keys that neither move nor close it do nothing.
func (f Form) page(key string) Form {
	switch key {
	case view.KeyDown:
		f.Help = min(f.Help+1, len(formHelp))
	case view.KeyUp:
		f.Help = max(f.Help-1, 1)
	case "?", view.KeyEscape, view.KeyEnter:
		f.Help = 0
	}
	return f
}

// Update returns the form after a key.
func (f Form) Update(key string) Form {
	if pasted, ok := strings.CutPrefix(key, view.KeyPasted); ok {
		return f.paste(pasted)
	}
	switch {
	case f.Help > 0 && key != view.KeyCtrlC:
		return f.page(key)
	case key == "?":
		f.Help = 1
		return f
	}
	f.Help, f.Offered = 0, false // a key takes it, drops it or changes it
	asked := f.Asked
	f.Problem, f.Asked, f.Interrupted = "", false, false
	switch {
	case key == view.KeyCtrlC:
		f.Editing, f.Interrupted = false, true
		return f.leave(asked)
	case key == view.KeyEnter && f.Row == f.doRow():
		return f.act(asked)
	case slices.Contains([]string{view.KeyUp, view.KeyDown, view.KeyLeft, view.KeyRight, view.KeyEnter,
		view.KeyTab}, key):
		return f.move(key)
	case key == view.KeyEscape, !f.Editing && !f.takesLetters() && key == "q":
		return f.leave(asked)
	case f.Row == f.doRow():
		return f
	case f.answers() != "" && key != "=":
		return f.answer(key)
	case key == view.KeyBackspace:
		if !f.Editing {
			f.Editing, f.Text = true, f.value(f.Row, f.Column)
		}
		_, n := utf8.DecodeLastRuneInString(f.Text)
		f.Text = f.Text[:len(f.Text)-n]
		return f
	case f.Row < f.noteRow() && key == "=":
		if f = f.takeTyped(); f.Problem != "" {
			return f
		}
		return f.fillRow()
	}
	return f.letter(key)
}

// answers are the letters that the place of the cursor is answered with, one key each; "" where text is typed.
func (f *Form) answers() string {
	switch {
	case f.inField(garage.FieldGaskets, garage.FieldORings):
		return "no"
	case f.inField(ticks...):
		return "x"
	}
	return ""
}

// answer takes a key as the answer: whether parts are new or old, whether a step is seen to; Space and Backspace take
// it back.
func (f Form) answer(key string) Form {
	key = strings.ToLower(key)
	switch {
	case key == " ", key == view.KeyBackspace:
		f.Text = ""
	case len(key) == 1 && strings.Contains(f.answers(), key):
		f.Text = key
	case f.answers() == "x":
		f.Problem = "Here: x done, Space not noted."
		return f
	default:
		f.Problem = "Here: n new, o used again, Space not noted."
		return f
	}
	f.Editing = true
	return f.takeTyped()
}

// paste types a text, unless the place at hand is answered with keys.
func (f Form) paste(text string) Form {
	if f.Help > 0 || f.Row == f.doRow() || f.answers() != "" {
		return f
	}
	f.Offered = false
	for letter := range strings.SplitSeq(text, "") {
		if f = f.letter(letter); f.Problem != "" {
			break
		}
	}
	return f
}

// letter types a letter where the cursor is.
func (f Form) letter(key string) Form {
	switch {
	case utf8.RuneCountInString(key) != 1:
	case !f.takesLetters() && !strings.Contains(numberLetters, key):
		f.Problem = fmt.Sprintf("%s is not taken here: digits, a fraction, a point or a comma.", plain.Text(key))
	case len(f.Text) < mostTyped:
		if !f.Editing {
			f.Editing, f.Text = true, ""
		}
		f.Text += plain.Text(key)
	}
	return f
}

// numberLetters are what turns and heights are written with.
const numberLetters = "0123456789 .,/-⅛¼⅜½⅝¾⅞"

// act does what the cursor is on in the last row.
func (f Form) act(asked bool) Form {
	switch f.Column {
	case doSave:
		if f.Card.Empty() {
			f.Problem = "Nothing is written down yet: fill in a place, or leave."
			return f
		}
		f.Done, f.Save = true, true
	case doMoment:
		f.Card.Moment = map[string]string{garage.BenchApart: garage.BenchTogether,
			garage.BenchTogether: garage.BenchApart}[f.Card.Moment]
	case doLeave:
		return f.leave(asked)
	}
	return f
}

// ticks are the settings that are ticked.
var ticks = slices.DeleteFunc(garage.Fields(), func(field string) bool { return !garage.IsTick(field) })

// leave ends typing, or the form; what was filled in is only lost when it was asked for twice.
func (f Form) leave(asked bool) Form {
	switch {
	case f.Editing:
		f.Editing, f.Text = false, ""
	case f.Changed && !asked:
		f.Asked, f.Problem = true, "Nothing is saved yet. Esc again leaves without saving; save is in the last row."
	default:
		f.Done = true
	}
	return f
}

// move takes what was typed and moves the cursor; it stays where that is wrong.
func (f Form) move(key string) Form {
	if !f.Editing && key == view.KeyEnter && f.answers() == "" { // to change what is there, or take what was
		f.Editing, f.Text = true, cmp.Or(f.value(f.Row, f.Column), f.before(f.Row, f.Column))
		f.Offered = f.value(f.Row, f.Column) == ""
		return f
	}
	if f = f.takeTyped(); f.Problem != "" {
		return f
	}
	switch key {
	case view.KeyUp:
		f.Row = max(f.Row-1, 0)
	case view.KeyDown:
		if f.Row = min(f.Row+1, f.doRow()); f.Row == f.doRow() {
			f.Column = doSave
		}
	case view.KeyLeft:
		f.Column = max(f.Column-1, 0)
	case view.KeyRight:
		f.Column++
	case view.KeyTab, view.KeyEnter:
		if f.Column++; f.Column >= f.columns() && f.Row < f.doRow() {
			f.Row, f.Column = f.Row+1, 0
		}
	}
	f.Column = min(f.Column, f.columns()-1)
	return f
}

// takeTyped puts what was typed into the card.
func (f Form) takeTyped() Form {
	if !f.Editing {
		return f
	}
	f.Card.Carburettors = slices.Clone(f.Card.Carburettors)
	switch {
	case f.Row < f.noteRow():
		if err := f.Card.Carburettors[f.Column].Set(garage.Fields()[f.Row], f.Text); err != nil {
			f.Problem = plain.Text(err.Error())
			return f
		}
	case f.Column < len(f.Card.Carburettors):
		f.Card.Carburettors[f.Column].Note = strings.TrimSpace(f.Text)
	default:
		text, _ := f.bankText(f.Column)
		*text = strings.TrimSpace(f.Text)
	}
	f.Editing, f.Text, f.Changed = false, "", true
	return f
}

// fillRow gives all carburettors the setting at the cursor; on an empty place those without one that to its left, as
// Enter moves on. Where there is none nothing is emptied.
func (f Form) fillRow() Form {
	all := f.value(f.Row, f.Column) != "" // else what was noted of others stays
	for f.Column > 0 && f.value(f.Row, f.Column) == "" {
		f.Column--
	}
	if f.value(f.Row, f.Column) == "" {
		f.Problem = "Nothing to copy: this place is empty."
		return f
	}
	f.Card.Carburettors = slices.Clone(f.Card.Carburettors)
	for i := range f.Card.Carburettors {
		if all || f.value(f.Row, i) == "" {
			f.Card.Carburettors[i].Set(garage.Fields()[f.Row], f.value(f.Row, f.Column))
		}
	}
	f.Changed = true
	return f
}

// before is what the card before says of a setting, "" nothing.
func (f *Form) before(row, column int) string {
	if f.Before == nil || row >= f.noteRow() || column >= len(f.Before.Carburettors) {
		return ""
	}
	return f.Before.Carburettors[column].Text(garage.Fields()[row])
}

// value is what stands in a place of the card.
func (f *Form) value(row, column int) string {
	switch {
	case row < f.noteRow():
		return f.Card.Carburettors[column].Text(garage.Fields()[row])
	case column < len(f.Card.Carburettors):
		return f.Card.Carburettors[column].Note
	}
	text, _ := f.bankText(column)
	return *text
}
