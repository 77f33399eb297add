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
