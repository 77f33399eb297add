package tell

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// show prints a value as JSON, else lines.
func show(out io.Writer, asJSON bool, value any, lines []string) error {
	if asJSON {
		return json.NewEncoder(out).Encode(value)
	}
	_, err := io.WriteString(out, strings.Join(append(lines, ""), "\n"))
	return err
}

// benchHead is a bench card in one line.
func benchHead(stored *garage.StoredBench) string {
	s := &stored.Kept
	text := plain.Minute(s.Time) + "  " + benchwords.MomentWords(s.Moment)
	var turns []string
	for i := range s.Carburettors {
		turns = append(turns, plain.OrDash(s.Carburettors[i].Text(garage.FieldPilotTurns)))
	}
	text += "  pilot screws " + strings.Join(turns, ", ")
	if s.Corrects != "" {
		text += "  " + Corrects(stored.Corrects())
	}
	if stored.By.N != 0 {
		text += "  " + CorrectedBy(stored.By)
	}
	return text
}

// Columns of a card's table.
const (
	settingColumn = 14
	carbColumn    = 11 // at least
	textColumns   = 78 // of remarks: fits an 80-column terminal
)

// benchLines is a bench card as a table, with remarks and warnings below.
func benchLines(s *garage.BenchCard) []string {
	lines := []string{fmt.Sprintf("%s, %s, %s", plain.Text(s.Bike), benchwords.MomentWords(s.Moment),
		plain.Minute(s.Time))}
	if s.Bike == "" {
		lines[0] = benchwords.MomentWords(s.Moment)
	}
	head := pad("", settingColumn)
	column := carbColumn
	for i := range s.Carburettors {
		for _, field := range garage.Fields() {
			column = max(column, utf8.RuneCountInString(plain.Text(s.Carburettors[i].Text(field)))+2)
		}
	}
	for i := range s.Carburettors {
		head += pad(fmt.Sprint(s.Carburettors[i].Cylinder), column)
	}
	lines = append(lines, strings.TrimRight(head, " "))
	for _, field := range garage.Fields() {
		row, noted := pad(benchwords.SettingName(field), settingColumn), false
		for i := range s.Carburettors {
			text := s.Carburettors[i].Text(field)
			noted = noted || text != ""
			row += pad(plain.OrDash(text), column)
		}
		if noted {
			lines = append(lines, strings.TrimRight(row+benchwords.SettingUnit(field), " "))
		}
	}
	add := func(text string) { lines = append(lines, plain.Wrap(text, textColumns)) }
	if kind := pilotKinds[s.PilotScrews]; kind != "" {
		lines = append(lines, kind)
	}
	for i := range s.Carburettors {
		if n := s.Carburettors[i].Note; n != "" {
			add(fmt.Sprintf("carburettor %d: %s", s.Carburettors[i].Cylinder, plain.Text(n)))
		}
	}
	for _, t := range [][2]string{{"synchronising screws, as found: ", s.ScrewsFound},
		{"throttle stop, as found: ", s.StopFound}, {"parts to order: ", s.ToOrder}, {"remark: ", s.Note}} {
		if t[1] != "" {
			add(t[0] + plain.Text(t[1]))
		}
	}
	for _, odd := range benchwords.OddLines(s) {
		add(odd)
	}
	return lines
}

// BenchChanges prints what differs between two bench cards.
func BenchChanges(out io.Writer, a, b *garage.StoredBench, asJSON bool) error {
	changes := append([]garage.SettingChange{}, garage.CompareBench(&a.Kept, &b.Kept)...)
	return show(out, asJSON, changes, changeLines(a, b, changes))
}

func changeLines(a, b *garage.StoredBench, changes []garage.SettingChange) []string {
	lines := []string{fmt.Sprintf("from %s, %s", a.Number, benchHead(a)), fmt.Sprintf("to   %s, %s", b.Number,
		benchHead(b))}
	if len(changes) == 0 {
		return append(lines, "nothing that both cards noted has changed")
	}
	for _, c := range changes {
		text := fmt.Sprintf("carburettor %d: %s %s → %s", c.Carburettor, benchwords.SettingName(c.Field),
			plain.Text(c.From),
			plain.Text(c.To))
		if c.Field == garage.FieldPilotTurns {
			if moved := turnsMoved(c); !math.IsNaN(moved) {
				way := "out"
				if moved < 0 {
					way = "in"
				}
				text += fmt.Sprintf(" (%s %s)", garage.FormatTurns(math.Abs(moved)), way)
			}
		}
		lines = append(lines, text)
	}
	return lines
}

func turnsMoved(c garage.SettingChange) float64 {
	from, errFrom := garage.ParseTurns(c.From)
	to, errTo := garage.ParseTurns(c.To)
	if errFrom != nil || errTo != nil {
		return math.NaN()
	}
	return to - from
}

// pad fills a text up with spaces to a width in letters.
func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(width-utf8.RuneCountInString(s), 1))
}

// Bench prints a bench card; saved is where it has just been saved, "" if it was not.
func Bench(out io.Writer, saved string, stored *garage.StoredBench, asJSON bool) error {
	s := &stored.Kept
	odds := []string{}
	for _, o := range s.Odds() {
		odds = append(odds, o.Field)
	}
	value, lines := map[string]any{"sheet": s, "differ_wildly": odds}, benchLines(s)
	if s.Corrects != "" {
		lines = append(lines, Corrects(stored.Corrects()))
	}
	if stored.By.N != 0 {
		lines = append(lines, CorrectedBy(stored.By)+": that one holds now")
	}
	if saved != "" {
		value["saved"] = saved
		lines = append(lines, fmt.Sprintf("saved to %s: %s", plain.Text(s.Bike), saved))
	}
	return show(out, asJSON, value, lines)
}

// BenchCards lists bench cards by their numbers.
func BenchCards(out io.Writer, stored []garage.StoredBench, asJSON bool) error {
	cards := []garage.BenchCard{}
	var lines []string
	for i := range stored {
		cards = append(cards, stored[i].Kept)
		lines = append(lines, fmt.Sprintf("%3s  %s", stored[i].Number, benchHead(&stored[i])))
	}
	if len(cards) == 0 {
		lines = []string{"no bench cards yet; evendraw bench writes one"}
	}
	return show(out, asJSON, cards, lines)
}
