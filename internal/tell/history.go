package tell

import (
	"cmp"
	"encoding/json"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"
)

// LeftLine is the unfinished record of a run that was cut off, in one line.
func LeftLine(r *garage.SyncRecord) string {
	text := fmt.Sprintf("%s, cut off %s, the engine had run %s", plain.Text(r.Bike), plain.Minute(r.Time),
		plain.Minutes(r.IdlingSeconds))
	switch n := len(r.Steps); n {
	case 0:
	case 1:
		text += ", one turn told"
	default:
		text += fmt.Sprintf(", %d turns told", n)
	}
	return text
}

// History lists a bike's records by their numbers; of many the last that are to be shown, all with 0 and as JSON.
// Others are damaged, which is told elsewhere.
func History(out io.Writer, bike string, heads []garage.SyncHead, damaged, shown int, u pressure.Unit,
	asJSON bool) error {
	if asJSON {
		return historyJSON(out, heads)
	}
	switch {
	case len(heads) == 0 && damaged > 0:
		fmt.Fprintf(out, "no records of %s that can be read, %d damaged: evendraw garage check sets those aside\n",
			plain.Text(bike), damaged)
	case len(heads) == 0:
		fmt.Fprintf(out, "no records of %s yet: evendraw live saves one when the bank is level, or with s\n"+
			"another bike's: evendraw history --bike NAME; evendraw bike list has the names\n", plain.Text(bike))
	}
	if len(heads) > 0 {
		fmt.Fprintf(out, "%s:\n", plain.Text(bike))
	}
	from := 0
	if shown > 0 {
		from = max(len(heads)-shown, 0)
	}
	if from > 0 {
		fmt.Fprintf(out, "%d older ones are not shown; --all shows them\n", from)
	}
	text := HistoryLines(heads, from, u)
	if n := len(heads); n > 0 {
		text += lookAgainLine(&heads[n-1])
	}
	_, err := io.WriteString(out, text)
	return err
}

// HistoryLines lists records from one on, by index, a line each.
func HistoryLines(heads []garage.SyncHead, from int, u pressure.Unit) string {
	numbers, corrected := map[string]string{}, map[string]string{}
	for _, h := range heads {
		numbers[filepath.Base(h.Path)], corrected[h.Corrects] = h.Number.String(), h.Number.String()
	}
	var b strings.Builder
	for i := from; i < len(heads); i++ {
		h := &heads[i]
		b.WriteString(historyLine(h, u))
		if h.Corrects != "" {
			b.WriteString("  (corrects " + cmp.Or(numbers[h.Corrects], "one that is not here") + ")")
		}
		if by := corrected[filepath.Base(h.Path)]; by != "" {
			b.WriteString("  (corrected by " + by + ")")
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// lookAgainAfter is when a levelled bank is to be looked at again. Chosen: some rides, in which it was hot and cold.
const lookAgainAfter = 14 * 24 * time.Hour

// lookAgainLine says what is to be done after the job, and by when; "" where the bank was not levelled.
func lookAgainLine(h *garage.SyncHead) string {
	switch h.Verdict {
	case garage.VerdictDone:
	case garage.VerdictDoubt:
		return "The last is in doubt (evendraw history show says why): find the cause before you ride, then level " +
			"again.\n"
	default:
		return ""
	}
	return fmt.Sprintf("Look again by %s, after some heat cycles: ride it, look at spark plugs, clamps and "+
		"lock nuts, then at the bank.\n", plain.Day(h.Time.Add(lookAgainAfter)))
}

func historyJSON(out io.Writer, heads []garage.SyncHead) error {
	type line struct {
		Number   int              `json:"number"`
		File     string           `json:"file"`
		Time     string           `json:"time"`
		Verdict  string           `json:"verdict"`
		Corrects *string          `json:"corrects"`
		Before   garage.NullKPa   `json:"before_kpa"`
		After    garage.NullKPa   `json:"after_kpa"`
		RPM      garage.NullFloat `json:"rpm"`
		Note     string           `json:"note"`
		LeftOut  []int            `json:"after_without"`
	}
	e := json.NewEncoder(out)
	for _, h := range heads {
		l := line{Number: h.Number.N, File: h.Path, Time: plain.Stamp(h.Time), Verdict: h.Verdict, Before: h.BeforeKPa,
			After: h.AfterKPa, RPM: h.RPM, Note: h.Note, LeftOut: append([]int{}, h.LeftOut...)}
		if h.Corrects != "" {
			l.Corrects = &h.Corrects
		}
		if err := e.Encode(l); err != nil {
			return err
		}
	}
	return nil
}

// Unfinished lists the records of runs that were cut off, by their numbers.
func Unfinished(out io.Writer, left []garage.StoredSync, asJSON bool) error {
	if asJSON {
		list := []garage.SyncRecord{}
		for _, l := range left {
			list = append(list, l.Record)
		}
		return json.NewEncoder(out).Encode(list)
	}
	if len(left) == 0 {
		fmt.Fprintln(out, "nothing is unfinished")
		return nil
	}
	for i := range left {
		fmt.Fprintf(out, "%3s  %s\n", left[i].Number, LeftLine(&left[i].Record))
	}
	fmt.Fprintln(out, "--keep NUMBER makes a record of it, --discard NUMBER takes it away; evendraw live offers to "+
		"go on")
	return nil
}
