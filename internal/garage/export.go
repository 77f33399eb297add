package garage

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
)

// column is a column of the exported table: one row a cylinder of a record.
type column struct {
	name, kind, about string           // kind is TEXT, REAL or INTEGER
	of                func(e *row) any // see cell
}

// row is a cylinder of a record, with what is known of it.
type row struct {
	file                  string
	r                     *SyncRecord
	before, after, raised RecordReading
	cylinder              int
	was, now              RecordCylinder // before and after
}

// cell returns what stands in the table for a value, "" for what is unknown.
func cell(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case time.Time:
		if v.IsZero() {
			return ""
		}
		return v.UTC().Format(time.RFC3339Nano)
	case *float64:
		if v == nil {
			return ""
		}
		return cell(*v)
	case int:
		return strconv.Itoa(v)
	}
	f := reflect.ValueOf(v).Float()
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return ""
	}
	return strconv.FormatFloat(f, 'g', -1, 64)
}

// columns are the table's, in order. New ones come at the end.
var columns = []column{
	{"bike", "TEXT", "name on the bike card", func(e *row) any { return e.r.Bike }},
	{"record", "TEXT", "file name of the record", func(e *row) any { return e.file }},
	{"time", "TEXT", "when it was saved, UTC, ISO 8601", func(e *row) any { return e.r.Time }},
	{"corrects", "TEXT", "file name of the record that it stands for", func(e *row) any { return e.r.Corrects }},
	{"verdict", "TEXT", "done (in lists: level), done-in-doubt, saved (saved early) or unfinished (cut off)",
		func(e *row) any { return e.r.Verdict }},
	{"reference", "INTEGER", "cylinder compared against", func(e *row) any { return e.r.Reference }},
	{"aim_kpa", "REAL", "spread that the advice worked towards", func(e *row) any { return e.r.AimKPa }},
	{"limit_kpa", "REAL", "spread with which the bank passes", func(e *row) any { return e.r.LimitKPa }},
	{"ambient_kpa", "REAL", "absolute air pressure", func(e *row) any { return e.r.AmbientKPa }},
	{"altitude_m", "REAL", "metres above sea level, if given", func(e *row) any { return e.r.AltitudeM }},
	{"idling_s", "REAL", "seconds that the engine ran", func(e *row) any { return e.r.IdlingSeconds }},
	{"turns_made", "INTEGER", "how often a screw was turned as advised, not how far",
		func(e *row) any { return len(e.r.Steps) }},
	{"before_rpm", "REAL", "engine speed before", func(e *row) any { return e.before.RPM }},
	{"before_spread_kpa", "REAL", "largest minus smallest vacuum before",
		func(e *row) any { return e.before.SpreadKPa }},
	{"after_rpm", "REAL", "engine speed after", func(e *row) any { return e.after.RPM }},
	{"after_spread_kpa", "REAL", "largest minus smallest vacuum after", func(e *row) any { return e.after.SpreadKPa }},
	{"after_spread_uncertainty_kpa", "REAL", "half-width of its 95 % interval",
		func(e *row) any { return e.after.SpreadUncertaintyKPa }},
	{"raised_rpm", "REAL", "engine speed at the look at a raised speed", func(e *row) any { return e.raised.RPM }},
	{"raised_spread_kpa", "REAL", "largest minus smallest vacuum there",
		func(e *row) any { return e.raised.SpreadKPa }},
	{"cylinder", "INTEGER", "from 1, from the seated rider's left", func(e *row) any { return e.cylinder }},
	{"before_draw_kpa", "REAL", "cycle-mean vacuum before", func(e *row) any { return e.was.DrawKPa }},
	{"before_difference_kpa", "REAL", "that minus the reference's", func(e *row) any { return e.was.DifferenceKPa }},
	{"after_draw_kpa", "REAL", "cycle-mean vacuum after", func(e *row) any { return e.now.DrawKPa }},
	{"after_difference_kpa", "REAL", "that minus the reference's", func(e *row) any { return e.now.DifferenceKPa }},
	{"after_uncertainty_kpa", "REAL", "half-width of its 95 % interval",
		func(e *row) any { return e.now.UncertaintyKPa }},
	{"after_ripple_kpa", "REAL", "peak-to-peak swing within a cycle",
		func(e *row) any { return e.now.RippleKPa }},
	{"opening_ratio", "REAL", "the butterfly's opening over the reference's",
		func(e *row) any { return e.now.OpeningRatio }},
	{"pilot_turns_out", "REAL", "where the pilot screw stood, turns out from lightly seated", func(e *row) any {
		if e.cylinder < 1 || e.cylinder > len(e.r.PilotTurnsOut) {
			return ""
		}
		return e.r.PilotTurnsOut[e.cylinder-1]
	}},
	{"lambda", "REAL", "mean at the end, by a wide-band probe", func(e *row) any { return e.r.Lambda }},
	{"temperature", "TEXT", "the user's note on it", func(e *row) any { return e.r.Temperature }},
	{"note", "TEXT", "the user's remark", func(e *row) any { return e.r.Note }},
	{"board", "TEXT", "serial of the board", func(e *row) any { return e.r.Board.Serial }},
	{"board_program", "TEXT", "version of the board's program", func(e *row) any { return e.r.Board.Program }},
	{"program", "TEXT", "version of evendraw", func(e *row) any { return e.r.Program }},
	{"capture", "TEXT", "file name of the capture", func(e *row) any { return e.r.Capture }},
	{"capture_sha256", "TEXT", "checksum of it when the record was saved",
		func(e *row) any { return e.r.CaptureSHA256 }},
	{"idle_wanted_low_rpm", "REAL", "least idle speed on the bike card", func(e *row) any {
		if e.r.IdleWanted == nil {
			return ""
		}
		return e.r.IdleWanted.LowRPM
	}},
	{"idle_wanted_high_rpm", "REAL", "most idle speed on the bike card", func(e *row) any {
		if e.r.IdleWanted == nil {
			return ""
		}
		return e.r.IdleWanted.HighRPM
	}},
}

// WriteCSV writes the names of the columns, and a row for each cylinder of each record; a
// record without a reading has one row, of cylinder 0. What is unknown is empty.
func WriteCSV(w io.Writer, records []StoredSync) error {
	out := csv.NewWriter(w)
	line := make([]string, len(columns))
	for i, c := range columns {
		line[i] = c.name
	}
	out.Write(line)
	for i := range records {
		for _, e := range rowsOf(&records[i]) {
			for k, c := range columns {
				v := c.of(&e)
				if line[k] = cell(v); startsFormula(v) {
					line[k] = formulaGuard + line[k]
				}
			}
			out.Write(line)
		}
	}
	out.Flush()
	return out.Error()
}

// formulaGuard stands before a text that a spreadsheet would take for a formula and run; the spreadsheet
// shows the text without it.
const formulaGuard = "'"

// startsFormula reports whether a value is a text that a spreadsheet would run.
func startsFormula(v any) bool {
	text, ok := v.(string)
	return ok && text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0]))
}

// rowsOf returns the cylinders of a record.
func rowsOf(s *StoredSync) (list []row) {
	r, numbers := &s.Kept, []int{}
	before, after := r.Before.Known(), r.After.Known()
	for _, c := range slices.Concat(before.Cylinders, after.Cylinders) {
		numbers = append(numbers, c.Cylinder)
	}
	slices.Sort(numbers)
	if numbers = slices.Compact(numbers); len(numbers) == 0 {
		numbers = []int{0}
	}
	for _, n := range numbers {
		list = append(list, row{filepath.Base(s.Path), r, before, after, r.Raised.Known(), n, before.Cylinder(n),
			after.Cylinder(n)})
	}
	return list
}

// WriteJSONLines writes each record as one line of JSON, as it stands in its file, with the file's name as "record".
func WriteJSONLines(w io.Writer, records []StoredSync) error {
	e := json.NewEncoder(w)
	for i := range records {
		line := struct {
			Record string `json:"record"`
			*SyncRecord
		}{filepath.Base(records[i].Path), &records[i].Kept}
		if err := e.Encode(line); err != nil {
			return err
		}
	}
	return nil
}

// Schema is the table's as SQL that SQLite and DuckDB read: the table that the CSV goes into
// as text, and a view with numbers, and NULL for what is unknown.
func Schema() string {
	var b strings.Builder
	b.WriteString("-- One row a cylinder of a levelling record. Pressures are in kPa, vacuum positive\n" +
		"-- downwards from the air pressure; what is unknown is empty.\n")
	b.WriteString("CREATE TABLE records_text (\n")
	var view []string
	for i, c := range columns {
		comma := ","
		if i == len(columns)-1 {
			comma = " "
		}
		fmt.Fprintf(&b, "  %q TEXT%s -- %s\n", c.name, comma, c.about)
		value := fmt.Sprintf("NULLIF(%q, '')", c.name)
		if c.kind != "TEXT" {
			value = "CAST(" + value + " AS " + c.kind + ")"
		}
		view = append(view, fmt.Sprintf("  %s AS %q", value, c.name))
	}
	fmt.Fprintf(&b, ");\nCREATE VIEW records AS SELECT\n%s\nFROM records_text;\n", strings.Join(view, ",\n"))
	return b.String()
}
