package benchform

import (
	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/view"
	"fmt"
	"strings"
)

// Picture is a form as texts for a screen.
type Picture struct {
	// Heads say what the form is, the longest first: the first that fits is shown.
	Heads []string
	// Columns are over the columns of Rows.
	Columns []string
	Rows    []Row
	// Below are lines under the table, Do what can be done, ShortDo on a narrow screen, Keys the last line.
	Below       []view.Text
	Do, ShortDo []view.Text
	Keys        []string
	Help        []string // in place of all else, nil without
}

// Row is a line of the table.
type Row struct {
	Name   string
	Places []view.Text
	Unit   string
	// Cursor is the place that the cursor is in, -1 none.
	Cursor int
}

// Picture puts the form in words.
func (f *Form) Picture() Picture {
	moment, bike := benchwords.MomentWords(f.Card.Moment), plain.Text(f.Bike)
	p := Picture{Heads: []string{"Bench card of " + bike + ", " + moment, bike + ", " + moment,
		"Bench card, " + moment},
		Keys: []string{"arrows move", "Enter changes", "= same for all", view.HelpKey, "Esc leaves"}}
	if f.Help > 0 {
		p.Help = formHelp[f.Help-1:]
	}
	for i := range f.Card.Carburettors {
		p.Columns = append(p.Columns, fmt.Sprint(f.Card.Carburettors[i].Cylinder))
	}
	for row, field := range garage.Fields() {
		p.Rows = append(p.Rows, f.row(row, benchwords.SettingName(field), benchwords.SettingUnit(field)))
	}
	if f.Editing {
		p.Keys = []string{"Enter takes it", "Esc drops it", view.HelpKey}
	}
	switch {
	case f.Problem != "":
		p.Below = append(p.Below, text(f.Problem, view.Bad))
	case !f.Editing:
		for _, line := range benchwords.OddLines(&f.Card) {
			p.Below = append(p.Below, text(line, view.Warn))
		}
	}
	p.Below = append(p.Below, f.noteLines()...)
	switch {
	case f.inField(garage.FieldGaskets, garage.FieldORings):
		p.Keys = []string{"n new", "o used again", "Space not noted", "= same for all", view.HelpKey, "Esc leaves"}
	case f.Row == f.noteRow() && !f.Editing:
		p.Keys = []string{"← → other remarks", "Enter changes", view.HelpKey, "Esc leaves"}
	case !f.Editing && f.answers() == "" && f.value(f.Row, f.Column) == "" && f.before(f.Row, f.Column) != "":
		last := "Enter twice: " + plain.Text(f.before(f.Row, f.Column)) + " as last time"
		p.Keys = []string{last, "= same for all", view.HelpKey, "Esc leaves"}
	case f.inField(ticks...):
		p.Keys = []string{"x done", "Space not noted", "= same for all", view.HelpKey, "Esc leaves"}
	}
	if f.Before != nil {
		p.Heads = append([]string{p.Heads[0] + "   (in brackets: the last card)"}, p.Heads...)
	}
	p.Do, p.ShortDo = f.doTexts(), f.doTexts()
	for i := range p.ShortDo {
		p.ShortDo[i].Text = shortMoments.Replace(p.ShortDo[i].Text)
	}
	if f.Row == 0 && f.Problem == "" {
		p.Below = append(p.Below, text("Turns out from lightly seated, as 1 7/8, 1.875 or 1⅞. "+
			"Never force a screw onto its seat.", view.Dim))
	}
	return p
}

func (f *Form) row(row int, name, unit string) Row {
	r := Row{Name: name, Unit: unit, Cursor: -1}
	for c := range f.Card.Carburettors {
		t := text(f.value(row, c), view.Plain)
		if was := f.before(row, c); t.Text == "" && was != "" {
			t = text("("+was+")", view.Dim)
		}
		if row == f.Row && c == f.Column {
			r.Cursor = c
			if f.Editing {
				t = text(f.Text+"_", view.Strong)
			}
		}
		t.Text = plain.Text(t.Text)
		r.Places = append(r.Places, t)
	}
	return r
}

// doTexts are what can be done.
func (f *Form) doTexts() (texts []view.Text) {
	other := benchwords.MomentWords(garage.BenchTogether)
	if f.Card.Moment == garage.BenchTogether {
		other = benchwords.MomentWords(garage.BenchApart)
	}
	for i, name := range []string{"save", "card " + other, "leave"} {
		if i > 0 {
			texts = append(texts, text("│", view.Dim))
		}
		t := text("  "+name, view.Plain)
		if f.Row == f.doRow() && f.Column == i {
			t = text("▸ "+name+" ◂", view.Strong)
		}
		texts = append(texts, t)
	}
	return texts
}

// noteLines are the remarks that are written, and the one in hand.
func (f *Form) noteLines() (lines []view.Text) {
	for c := range len(f.Card.Carburettors) + bankTexts {
		name, value, role := fmt.Sprintf("remark on %d: ", c+1), plain.Text(f.value(f.noteRow(), c)), view.Plain
		if c >= len(f.Card.Carburettors) {
			_, name = f.bankText(c)
		}
		here := f.Row == f.noteRow() && f.Column == c
		if here {
			role, value = view.Strong, "▸ "+value
			if f.Editing {
				value = "▸ " + plain.Text(f.Text) + "_"
			}
		}
		if value != "" {
			lines = append(lines, text(name+value, role))
		}
	}
	more := "↓ more: remarks, settings found, parts."
	if f.Row == f.noteRow() {
		more = fmt.Sprintf("Remark %d of %d: ← → go through those on each carburettor, on screws and throttle stop as "+
			"found, on parts to order, on the bank.", f.Column+1, f.columns())
	}
	return append(lines, text(more, view.Dim))
}

// formHelp is the page behind the question mark.
var formHelp = []string{
	"arrows    move; each column is a carburettor, 1 at the rider's left",
	"Enter     change what is there; once typed, Enter or Tab keeps it",
	"=         give all carburettors the same",
	"n  o      gaskets and O-rings: new, or old ones used again",
	"x         a step of the assembly is done",
	"Esc       drop what is typed; or leave: it asks, if something is not saved",
	"",
	"Save is in the last row. There you also choose: as it came apart, or as it goes back on. If the window is " +
		"closed, what is filled in is saved, and marked as cut short.",
	"",
	"Pilot screws: turns out from lightly seated, as 1 7/8, 1.875, 1,875 or 1⅞. Never force a " +
		"screw onto its seat. In brackets: from the last card; Enter twice puts it on this one too. " +
		"Leave a place empty for what you don't know.",
}

// shortMoments shortens what can be done in the form, for a narrow screen.
var shortMoments = strings.NewReplacer("card as it goes back on", "as refitted", "card as", "as")

func text(t string, role view.Role) view.Text { return view.Text{Text: t, Role: role} }
