package tell

import (
	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"io"
	"strconv"
	"strings"
	"time"
)

// Checks prints the pre-start checks as a list, with what was answered and when; open ones with their names.
func Checks(out io.Writer, checks []garage.Check, ticks []garage.Tick, asJSON bool) error {
	return show(out, asJSON, func() any { return checksValue(checks, ticks) },
		func() []string { return checkLines(checks, ticks) })
}

func checkLines(checks []garage.Check, ticks []garage.Tick) (lines []string) {
	open, part := 0, ""
	for _, c := range checks {
		if c.Part != part {
			part = c.Part
			lines = append(lines, benchwords.PartWords(part))
		}
		short, _ := benchwords.CheckWords(c)
		t, ok := garage.TickOf(ticks, c.ID)
		switch {
		case !ok:
			open++
			lines = append(lines, "  [ ] "+pad(short, checkColumn)+c.ID)
		case t.Answer == garage.TickNotNeeded:
			lines = append(lines, "  [-] "+pad(short, checkColumn)+"not on this bike")
		case t.Answer == garage.TickLeft:
			lines = append(lines, "  [!] "+pad(short, checkColumn)+"left open on purpose, "+plain.Minute(t.Time))
		default:
			lines = append(lines, "  [x] "+pad(short, checkColumn)+plain.Minute(t.Time))
		}
	}
	switch open {
	case 0:
		return append(lines, "All were looked at.")
	case 1:
		lines = append(lines, "One is open.")
	default:
		lines = append(lines, strconv.Itoa(open)+" are open.")
	}
	return append(lines, "--done takes the names at the right, with commas between.")
}

// checkColumn is how wide a check's words are in a list.
const checkColumn = 52

// CheckQuestion is a check as it is asked in a terminal: its place in the list, its words,
// and what to do, in lines of at most 78 columns.
func CheckQuestion(c garage.Check, number, of int) []string {
	short, text := benchwords.CheckWords(c)
	lines := []string{strconv.Itoa(number) + " of " + strconv.Itoa(of) + ", " +
		strings.ToLower(benchwords.PartWords(c.Part)) + ": " + short}
	for line := range strings.SplitSeq(plain.Wrap(text, 76), "\n") {
		lines = append(lines, "  "+line)
	}
	return lines
}

func checksValue(checks []garage.Check, ticks []garage.Tick) any {
	type line struct {
		ID     string     `json:"id"`
		Part   string     `json:"part"`
		Text   string     `json:"text"`
		Answer *string    `json:"answer"`
		Time   *time.Time `json:"time"`
	}
	list := []line{}
	for _, c := range checks {
		short, _ := benchwords.CheckWords(c)
		l := line{ID: c.ID, Part: c.Part, Text: short}
		if t, ok := garage.TickOf(ticks, c.ID); ok {
			l.Answer, l.Time = &t.Answer, &t.Time
		}
		list = append(list, l)
	}
	return list
}
