package tell

import (
	"io"
	"strconv"
	"strings"
	"time"

	"evendraw/internal/benchwords"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// Checks prints the pre-start checks as a list, with what was answered and when; open ones with their names.
func Checks(out io.Writer, checks []garage.Check, ticks []garage.Tick, asJSON bool) error {
	return show(out, asJSON, checksValue(checks, ticks), checkLines(checks, ticks))
}

// checkMarks stand before a check, by its answer; an open one has none.
var checkMarks = map[string]string{garage.TickDone: "x", garage.TickNotNeeded: "-", garage.TickLeft: "!"}

func checkLines(checks []garage.Check, ticks []garage.Tick) (lines []string) {
	open, left, part := 0, 0, ""
	var last time.Time
	for _, c := range checks {
		if c.Part != part {
			part = c.Part
			lines = append(lines, benchwords.PartWords(part))
		}
		short, _ := benchwords.CheckWords(c)
		mark := " "
		if t, ok := garage.TickOf(ticks, c.ID); !ok {
			open++
		} else {
			if mark = checkMarks[t.Answer]; t.Answer == garage.TickLeft {
				left++
			}
			if t.Time.After(last) {
				last = t.Time
			}
		}
		lines = append(lines, "  ["+mark+"] "+pad(short, checkColumn)+c.ID)
	}
	switch {
	case open == 0 && left > 0:
		lines = append(lines, "None is open but what was left so on purpose: "+strconv.Itoa(left)+".")
	case open == 0:
		lines = append(lines, "All were looked at.")
	case open == 1:
		lines = append(lines, "One is open.")
	default:
		lines = append(lines, strconv.Itoa(open)+" are open.")
	}
	if !last.IsZero() {
		lines[len(lines)-1] += " Last answered " + plain.Minute(last) + "."
		lines = append(lines, "x: done; -: not on this bike; !: left open on purpose.")
	}
	return append(lines, "--done and --undo take the names at the right, with commas between.")
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
	list := []map[string]any{}
	for _, c := range checks {
		short, _ := benchwords.CheckWords(c)
		l := map[string]any{"id": c.ID, "part": c.Part, "text": short, "answer": nil, "time": nil}
		if t, ok := garage.TickOf(ticks, c.ID); ok {
			l["answer"], l["time"] = t.Answer, t.Time
		}
		list = append(list, l)
	}
	return list
}
