package garage

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
)

// A text that a spreadsheet would run as a formula has a quote before it in CSV; figures, other texts and
// JSON are as they are.
func TestExportRunsNothing(t *testing.T) {
	t.Parallel()
	for note, want := range map[string]string{"=1+1": "'=1+1", "@SUM(A1)": "'@SUM(A1)", "-2+3": "'-2+3", "+1": "'+1",
		"\t=1": "'\t=1", "a=1": "a=1", "'=1": "'=1", "": ""} {
		rec := *someRecord()
		rec.Note = note
		rec.After.Cylinders[0].DifferenceKPa = -0.5
		var out, lines bytes.Buffer
		records := []StoredSync{{Path: "x.sync", Kept: rec}}
		must(t, WriteCSV(&out, records))
		must(t, WriteJSONLines(&lines, records))
		rows, err := csv.NewReader(&out).ReadAll()
		must(t, err)
		column := map[string]int{}
		for i, name := range rows[0] {
			column[name] = i
		}
		if got := rows[1][column["note"]]; got != want {
			t.Errorf("note %q is written %q, want %q", note, got, want)
		}
		if text := strings.Join(rows[1], ","); !strings.Contains(text, ",-0.5,") {
			t.Errorf("a figure below zero is gone: %s", text)
		}
		if strings.Contains(lines.String(), "\"'") && note != "'=1" {
			t.Errorf("JSON: %s", lines.String())
		}
	}
}
