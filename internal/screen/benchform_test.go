package screen

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/benchform"
	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/view"
)

// form is a form for an invented four, with a card before it, after some keys.
func form(keys ...string) benchform.Form {
	b := bank.Default(4)
	before := garage.NewBenchCard(&b, garage.BenchApart)
	for i := range before.Carburettors {
		before.Carburettors[i].PilotTurnsOut = 2.125
	}
	f := benchform.New("Invented Four", garage.NewBenchCard(&b, garage.BenchApart))
	f.Before = &before
	for _, k := range keys {
		f = f.Update(k)
	}
	return f
}

// golden compares a picture with the one in testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || string(want) != got {
		t.Errorf("%s: %v, got\n%s", name, err, got)
	}
}

// typed returns a text as keys.
func typed(text string) (keys []string) {
	for _, r := range text {
		keys = append(keys, string(r))
	}
	return keys
}

func TestBenchFormPictures(t *testing.T) {
	t.Parallel()
	down := []string{view.KeyDown}
	for name, keys := range map[string][]string{
		"form-empty": nil,
		"form-help":  {"?"},
		"form-wrong": append(typed("2.3"), view.KeyEnter),
		"form-apart": append(append(append(typed("2 1/4"), view.KeyTab), typed("5")...), view.KeyDown),
		"form-typed": append(append(typed("2¼"), down...), typed("112.5")...),
	} {
		t.Run(name, func(t *testing.T) {
			f := form(keys...)
			for size, c := range map[string]*Canvas{"80x24": NewCanvas(80, 24), "40x12": NewCanvas(40, 12)} {
				DrawBenchForm(c, &f)
				golden(t, name+"-"+size, c.String())
			}
		})
	}
	for _, size := range [][2]int{{0, 0}, {1, 1}, {5, 3}, {300, 100}} {
		f := form()
		DrawBenchForm(NewCanvas(size[0], size[1]), &f)
	}
}

// Help opens while something is typed, which is there still when it closes.
func TestBenchFormHelpWhileTyping(t *testing.T) {
	t.Parallel()
	if f := form("2", "?"); f.Help == 0 || f.Update("?").Help != 0 || f.Update("?").Text != "2" {
		t.Errorf("%+v", f)
	}
}

func TestBenchFormKeys(t *testing.T) {
	t.Parallel()
	// Turns go in, a wrong one keeps the cursor where it is, = fills the row.
	f := form(append(typed("2.3="), view.KeyEnter)...)
	if !math.IsNaN(float64(f.Card.Carburettors[0].PilotTurnsOut)) || f.Problem == "" || f.Column != 0 ||
		f.Text != "2.3" {
		t.Errorf("a wrong text was taken: %+v", f)
	}
	f = form(append(typed("2 1/4"), view.KeyEnter, view.KeyLeft, "=")...)
	if f.Card.Carburettors[3].PilotTurnsOut != 2.25 || f.Column != 0 {
		t.Errorf("not filled: %+v", f.Card.Carburettors[3])
	}
	if f = f.Update("x"); f.Editing {
		t.Error("a letter is a number of turns")
	}
	// Where letters are text they are no commands.
	f = form(append(append([]string{view.KeyDown, view.KeyDown, view.KeyDown}, typed("q5s")...), view.KeyBackspace,
		view.KeyEnter)...)
	if f.Card.Carburettors[0].Needle != "q5" || f.Done {
		t.Errorf("needle %q, left %v", f.Card.Carburettors[0].Needle, f.Done)
	}
	// Remarks, and leaving: what was filled in is only lost on a second word.
	f = form(append(append(slices.Repeat([]string{view.KeyDown}, 11), view.KeyRight),
		append(typed("slide scored"), view.KeyEnter)...)...)
	if f.Card.Carburettors[1].Note != "slide scored" {
		t.Errorf("%+v", f.Card.Carburettors[1])
	}
	if f = f.Update(view.KeyEscape); f.Done {
		t.Error("left at once")
	}
	if again := f.Update(view.KeyEscape); !again.Done || again.Save {
		t.Error("not left on the second word")
	}
	if on := f.Update(view.KeyUp).Update(view.KeyEscape); on.Done {
		t.Error("left though another key came between")
	}
	f = f.Update(view.KeyDown).Update(view.KeyLeft).Update(view.KeyLeft)
	if f = f.Update(view.KeyEnter); !f.Done || !f.Save {
		t.Errorf("not saved: row %d, column %d", f.Row, f.Column)
	}
	if f := form("q"); !f.Done || f.Save {
		t.Error("an empty form is not left at once")
	}
	f = form(append(slices.Repeat([]string{view.KeyDown}, 12), view.KeyRight, view.KeyEnter)...)
	if f.Card.Moment != garage.BenchTogether {
		t.Errorf("moment %s", f.Card.Moment)
	}
	f = form(append(slices.Repeat([]string{view.KeyDown}, 7), "n", view.KeyRight, "o")...)
	if f.Card.Carburettors[0].ORings != garage.PartsRenewed ||
		f.Card.Carburettors[1].ORings != garage.PartsReused {
		t.Errorf("%+v", f.Card.Carburettors)
	}
	// Steps of the assembly are ticked; after the carburettors' remarks come the bank's texts.
	keys := append(slices.Repeat([]string{view.KeyDown}, 8), "x", "=", view.KeyDown, view.KeyDown,
		view.KeyDown, view.KeyRight, view.KeyRight, view.KeyRight, view.KeyRight)
	f = form(slices.Concat(keys, typed("1-2: 5 threads"), []string{view.KeyEnter})...)
	if f.Card.Carburettors[3].PilotParts != garage.PartsSeen || f.Card.ScrewsFound != "1-2: 5 threads" {
		t.Errorf("%+v", f.Card)
	}
}

// After Enter, which moves on, = fills the row with what was typed, and an empty place never wipes another.
func TestBenchFormFillsFromTheLeft(t *testing.T) {
	t.Parallel()
	for _, keys := range [][]string{append(typed("2 1/4"), view.KeyEnter, "="),
		append(append([]string{view.KeyRight}, typed("2 1/4")...), view.KeyEnter, view.KeyLeft, view.KeyLeft, "=")} {
		c := form(keys...).Card.Carburettors
		if first := len(keys) == 7; c[1].PilotTurnsOut != 2.25 || first != (c[3].PilotTurnsOut == 2.25) {
			t.Errorf("%q: %+v", keys, c)
		}
	}
}

// The sign that gives all carburettors the same is never part of a setting; what does not belong in one is told.
func TestFormTakesNoStrangeLetters(t *testing.T) {
	t.Parallel()
	f := form(append([]string{view.KeyDown}, typed("112,5=")...)...)
	for i, c := range f.Card.Carburettors {
		if c.MainJet != "112,5" {
			t.Errorf("carburettor %d: %q", i+1, c.MainJet)
		}
	}
	for row, field := range garage.Fields() {
		keys := append(slices.Repeat([]string{view.KeyDown}, row), "2", "x")
		letters := slices.Contains([]string{garage.FieldMainJet, garage.FieldPilotJet, garage.FieldNeedle}, field)
		if g := form(keys...); !letters && g.Problem == "" && g.Card.Carburettors[0].Text(field) == "" {
			t.Errorf("%s: 2x, and nothing is said", field)
		}
	}
}

// A remark is shown whole while it is written, however long it is and however small the window.
func TestARemarkIsSeenWhileItIsWritten(t *testing.T) {
	t.Parallel()
	remark := strings.Repeat("worn needle ", 14) + "end"
	keys := append(slices.Repeat([]string{view.KeyDown}, len(garage.Fields())), typed(remark)...)
	last := append(append(slices.Clone(keys), view.KeyEnter), typed(remark)...)
	for name, f := range map[string]benchform.Form{"first": form(keys...), "second": form(last...)} {
		for _, size := range [][2]int{{40, 12}, {60, 18}, {80, 24}} {
			c := NewCanvas(size[0], size[1])
			DrawBenchForm(c, &f)
			if text := strings.Join(strings.Fields(c.String()), " "); !strings.Contains(text, "▸ "+remark+"_") {
				t.Errorf("%s, %dx%d:\n%s", name, size[0], size[1], c)
			}
		}
	}
}

// What is pasted is text: whole in a remark, as digits in a place for turns, and no keys where keys answer.
func TestFormPaste(t *testing.T) {
	t.Parallel()
	remark := strings.Repeat("why? quite worn ", 10)
	down := func(rows int, keys ...string) []string {
		return append(slices.Repeat([]string{view.KeyDown}, rows), keys...)
	}
	f := form(down(len(garage.Fields()), view.KeyPasted+remark)...)
	if f.Help > 0 || f.Done || f.Text != remark {
		t.Errorf("%+v", f)
	}
	if f = form(view.KeyPasted+"1 7/8", view.KeyTab); f.Card.Carburettors[0].PilotTurnsOut != 1.875 {
		t.Errorf("%+v", f.Card.Carburettors[0])
	}
	for row, field := range garage.Fields() {
		before := form(down(row)...)
		if f = before.Update(view.KeyPasted + "xn"); f.Card.Carburettors[0] != before.Card.Carburettors[0] &&
			f.Card.Carburettors[0].Text(field) != "" {
			t.Errorf("%s: %+v", field, f.Card.Carburettors[0])
		}
	}
}

// In a narrow window, too, it stands what the value in hand is counted in, and from where.
func TestTheUnitInHandIsShown(t *testing.T) {
	t.Parallel()
	for row, field := range garage.Fields() {
		f := form(slices.Repeat([]string{view.KeyDown}, row)...)
		for _, size := range [][2]int{{40, 12}, {60, 18}, {80, 24}} {
			c := NewCanvas(size[0], size[1])
			DrawBenchForm(c, &f)
			if !strings.Contains(c.String(), benchwords.SettingUnit(field)) {
				t.Errorf("%s, %dx%d:\n%s", field, size[0], size[1], c)
			}
		}
	}
}
