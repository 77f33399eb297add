package tell

import (
	"fmt"
	"io"
	"strings"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// LeftLine is the unfinished record of a run that was cut off, in one line.
func LeftLine(r *garage.SyncRecord) string {
	text := fmt.Sprintf("%s, cut off %s, the engine had run %s", plain.Text(r.Bike), plain.Minute(r.Time),
		plain.Minutes(r.IdlingSeconds))
	if n := len(r.Steps); n > 0 {
		text += ", " + plain.Count(n, "turn") + " told"
	}
	return text
}

// History lists a bike's records by their numbers; of many the last that are to be shown, all with 0 and as JSON.
// Others can't be read, which is told elsewhere, or were set aside, so many.
func History(out io.Writer, bike string, records []garage.StoredSync, unread []*garage.Error, aside, shown int,
	u pressure.Unit, asJSON bool) error {
	if asJSON {
		return historyJSON(out, records)
	}
	switch {
	case len(records) == 0 && len(unread) > 0:
		text := "no records of " + plain.Text(bike) + " that can be read"
		if n := garage.CountUnread(unread).Damaged; n > 0 {
			text += fmt.Sprintf(", %d damaged: evendraw garage check sets those aside", n)
		}
		fmt.Fprintln(out, text)
	case len(records) == 0:
		fmt.Fprintf(out, "no records of %s yet: evendraw live saves one when the bank is level, or with s\n"+
			"another bike's: evendraw history --bike NAME; evendraw bike list has the names\n", plain.Text(bike))
		if aside > 0 {
			fmt.Fprintf(out, "damaged and set aside: %d; evendraw garage check says where\n", aside)
		}
	}
	if len(records) == 0 {
		return nil
	}
	fmt.Fprintf(out, "%s:\n", plain.Text(bike))
	from := 0
	if shown > 0 {
		from = max(len(records)-shown, 0)
	}
	if from > 0 {
		fmt.Fprintf(out, "%d older ones are not shown; --all shows them\n", from)
	}
	_, err := io.WriteString(out, HistoryLines(records, from, u)+lookAgainLine(&records[len(records)-1].Kept))
	return err
}

// Corrects says which record or bench card one stands for: by its number, 0 where that is not beside it.
func Corrects(n garage.Number) string {
	if n.N == 0 {
		return "corrects one that is not here"
	}
	return "corrects " + n.String()
}

// CorrectedBy says which record or bench card stands for one, by its number.
func CorrectedBy(n garage.Number) string { return "corrected by " + n.String() }

// HistoryLines lists records from one on, by index, a line each.
func HistoryLines(records []garage.StoredSync, from int, u pressure.Unit) string {
	var b strings.Builder
	for i := from; i < len(records); i++ {
		s := &records[i]
		b.WriteString(historyLine(s, u))
		if s.Kept.Corrects != "" {
			b.WriteString("  (" + Corrects(s.Corrects()) + ")")
		}
		if s.By.N != 0 {
			b.WriteString("  (" + CorrectedBy(s.By) + ")")
		} else if i+1 < len(records) && records[i+1].Kept.Corrects == "" && s.Kept.SameJob(&records[i+1].Kept) {
			b.WriteString("  (the job goes on: " + records[i+1].Number.String() + ")")
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// lookAgainAfter is when a levelled bank is to be looked at again. Chosen: some rides, in which it was hot and cold.
const lookAgainAfter = 14 * 24 * time.Hour

// lookAgainLine says what is to be done after the job, and by when; "" where the bank was not levelled.
func lookAgainLine(r *garage.SyncRecord) string {
	switch r.Verdict {
	case garage.VerdictDone:
	case garage.VerdictDoubt:
		return "The last is in doubt (evendraw history show says why): find the cause before you ride, then level " +
			"again.\n"
	default:
		return ""
	}
	return fmt.Sprintf("Look again by %s, after some heat cycles: ride it, look at spark plugs, clamps and "+
		"lock nuts, then at the bank.\n", plain.Day(r.Time.Add(lookAgainAfter)))
}

func historyJSON(out io.Writer, records []garage.StoredSync) error {
	for i := range records {
		s, r := &records[i], &records[i].Kept
		before, after := r.Before.Known(), r.After.Known()
		o := &object{[]byte{'{'}}
		o.count("number", uint64(s.Number.N))
		o.text("file", s.Path)
		o.token("time", plain.Stamp(r.Time))
		o.text("verdict", r.Verdict)
		o.word("corrects", r.Corrects)
		o.figure("before_kpa", float64(before.SpreadKPa))
		o.figure("after_kpa", float64(after.SpreadKPa))
		o.figure("rpm", float64(after.RPM))
		o.text("note", r.Note)
		figures(o, "after_without", after.LeftOut())
		if _, err := out.Write(append(o.b, "}\n"...)); err != nil {
			return err
		}
	}
	return nil
}

// Unfinished lists the records of runs that were cut off, by their numbers.
func Unfinished(out io.Writer, left []garage.StoredSync, asJSON bool) error {
	list, lines := []garage.SyncRecord{}, []string(nil)
	for i := range left {
		list = append(list, left[i].Kept)
		lines = append(lines, fmt.Sprintf("%3s  %s", left[i].Number, LeftLine(&left[i].Kept)))
	}
	if lines = append(lines, "--keep NUMBER makes a record of it, --discard NUMBER takes it away; evendraw live "+
		"offers to go on"); len(left) == 0 {
		lines = []string{"nothing is unfinished"}
	}
	return show(out, asJSON, list, lines)
}
