package benchform

import (
	"slices"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/view"
)

// Where one key is the answer no text is typed: whatever was pressed before it, the answer counts.
func TestAnAnswerCountsAfterAnyKey(t *testing.T) {
	t.Parallel()
	b := bank.Default(4)
	for _, c := range []struct{ field, key, value string }{
		{garage.FieldGaskets, "n", "renewed"},
		{garage.FieldORings, "O", "reused"},
		{ticks[0], "x", "seen"},
		{ticks[0], "X", "seen"},
	} {
		for _, before := range []string{view.KeyEnter, view.KeyBackspace, "7", c.key, " "} {
			f := New("invented", garage.NewBenchCard(&b, garage.BenchApart))
			f.Row, f.Column = slices.Index(garage.Fields(), c.field), 1
			if f = f.Update(before); f.Column == 2 {
				f = f.Update(view.KeyLeft)
			}
			f = f.Update(c.key)
			f = f.Update(view.KeyEnter)
			if got := f.value(f.Row, 1); got != c.value || f.Problem != "" {
				t.Errorf("%s, %q %q: %q, %s", c.field, before, c.key, got, f.Problem)
			}
			f.Column = 1
			if f = f.Update(view.KeyBackspace); f.value(f.Row, 1) != "" {
				t.Errorf("%s: Backspace leaves %q", c.field, f.value(f.Row, 1))
			}
		}
	}
}

// An empty place is not copied, and that is said; one beside a figure takes that.
func TestAnEmptyPlaceIsNotCopied(t *testing.T) {
	t.Parallel()
	b := bank.Default(4)
	f := New("invented", garage.NewBenchCard(&b, garage.BenchApart))
	f.Row, f.Column = slices.Index(garage.Fields(), garage.FieldPilotJet), 2
	f = f.Update("5")
	f = f.Update(view.KeyEnter) // to the fourth
	if f.Column != 3 {
		t.Fatalf("column %d", f.Column)
	}
	f.Column = 1
	if f = f.Update("="); f.Problem == "" || f.value(f.Row, 2) != "5" {
		t.Errorf("problem %q, the third is %q", f.Problem, f.value(f.Row, 2))
	}
	f.Card.Carburettors[1].Set(garage.FieldPilotJet, "4.5")
	f.Column = 3
	if f = f.Update("="); f.Problem != "" || f.value(f.Row, 0) != "5" || f.value(f.Row, 1) != "4.5" {
		t.Errorf("problem %q, %q and %q", f.Problem, f.value(f.Row, 0), f.value(f.Row, 1))
	}
	if f = f.Update("="); f.value(f.Row, 1) != "5" { // at a figure it is all
		t.Errorf("the second is %q", f.value(f.Row, 1))
	}
}

// A figure that is typed on the page of help is not taken apart: the page stays until a key closes it.
func TestThePageOfHelpTakesNoFigure(t *testing.T) {
	t.Parallel()
	b := bank.Default(4)
	f := New("invented", garage.NewBenchCard(&b, garage.BenchApart))
	f.Row = slices.Index(garage.Fields(), garage.FieldMainJet)
	f = f.Update("?")
	for _, key := range []string{"1", ",", "8", view.KeyTab} {
		if f = f.Update(key); f.Help != 1 || f.Editing || f.Column != 0 {
			t.Fatalf("after %q: page %d, editing %v, column %d", key, f.Help, f.Editing, f.Column)
		}
	}
	for _, key := range []string{"?", view.KeyEscape, view.KeyEnter} {
		if f := f.Update(key); f.Help != 0 {
			t.Errorf("%q leaves the page open", key)
		}
	}
	if f = f.Update(view.KeyCtrlC); !f.Interrupted || f.Help != 0 {
		t.Error("Ctrl-C is not taken")
	}
}

// What the card before said is taken over by opening its place and keeping it; left alone it is on no new card.
func TestTheLastCardIsTakenOver(t *testing.T) {
	t.Parallel()
	b := bank.Default(4)
	last := garage.NewBenchCard(&b, garage.BenchApart)
	for i := range last.Carburettors {
		if err := last.Carburettors[i].Set(garage.FieldPilotJet, "40"); err != nil {
			t.Fatal(err)
		}
	}
	f := New("invented", garage.NewBenchCard(&b, garage.BenchTogether))
	f.Before, f.Row = &last, slices.Index(garage.Fields(), garage.FieldPilotJet)
	f = f.Update(view.KeyEnter).Update(view.KeyEnter)
	if f.value(f.Row, 0) != "40" || f.value(f.Row, 1) != "" || f.Column != 1 {
		t.Errorf("%q, %q, column %d", f.value(f.Row, 0), f.value(f.Row, 1), f.Column)
	}
}
