package cli

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// recordedGarage makes a garage with an invented four and n records of it.
func recordedGarage(t *testing.T, n int) (dir string, g *garage.Garage) {
	t.Helper()
	dir = t.TempDir()
	if r := evendraw(t, dir, "bike", "new", "Invented Four", "--cylinders", "4"); r.status != 0 {
		t.Fatal(r.err)
	}
	g = invented.Garage(t, dir)
	for i := range n {
		reading := func(spread float64) *garage.RecordReading {
			out := &garage.RecordReading{RPM: 1050, SpreadKPa: garage.NullKPa(spread), SpreadUncertaintyKPa: 0.05}
			for c := range 4 {
				d := spread * float64(c) / 3
				out.Cylinders = append(out.Cylinders, garage.RecordCylinder{Cylinder: c + 1, Channel: c,
					DrawKPa: garage.NullKPa(25 +
						d), DifferenceKPa: garage.NullKPa(d), UncertaintyKPa: 0.06, State: "ok"})
			}
			return out
		}
		rec := &garage.SyncRecord{Program: version, Time: time.Date(2026, 3, 1+i, 10, 0, 0, 0, time.UTC), Reference: 1,
			Unit: "kPa", AimKPa: 0.5, LimitKPa: 2.7, AmbientKPa: 98,
			Before: reading(4 + float64(i)), After: reading(0.3), Verdict: garage.VerdictDone, Note: "remark, with " +
				"\"quotes\"\nand lines", IdlingSeconds: 100,
			Effects: []garage.RecordEffect{{Screw: "1-2", KPaPerTurn: -6}}}
		if i < n-1 {
			rec.Zero = &garage.RecordZero{Time: rec.Time.Add(-time.Hour), AmbientKPa: 98,
				OffsetsKPa: make([]pressure.KPa, 4)}
		}
		if _, err := g.SaveSync("Invented Four", rec); err != nil {
			t.Fatal(err)
		}
	}
	return dir, g
}

// A record that is corrected again loses what was put right before: that is said.
func TestACorrectionOfACorrectedRecordWarns(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 2)
	if r := evendraw(t, dir, "history", "correct", "2", "--note", "one"); r.status != 0 ||
		strings.Contains(r.err, "before") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r := evendraw(t, dir, "history", "show", "2"); !strings.Contains(r.out, "corrected by 3: that one holds now") {
		t.Errorf("%s%s", r.out, r.err)
	}
	page := filepath.Join(dir, "old.html")
	evendraw(t, dir, "sheet", "2", "--out", page)
	if text, err := os.ReadFile(page); !strings.Contains(string(text), "corrected by 3") {
		t.Errorf("the page of a corrected record does not say so: %v", err)
	}
	r := evendraw(t, dir, "history", "correct", "2", "--note", "two")
	if r.status != 0 || !strings.Contains(r.err, "record 2 was corrected by 3 before") {
		t.Errorf("%s%s", r.out, r.err)
	}
}

func TestHistoryVerbs(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 5)
	r := evendraw(t, dir, "history")
	if r.status != 0 || strings.Count(r.out, "level") != 5 || !strings.Contains(r.out, "8.0 → 0.3") ||
		!strings.Contains(r.out, "Look again by 2026-03-19") ||
		strings.Contains(r.out, "\nand lines") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history", "correct", "2", "--note", "it was the other bank", "--pilot",
		"2 1/4,2,2,2"); r.status != 0 || !strings.Contains(r.out, "\nrecord 2 stays as it was\n") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history"); strings.Count(r.out, "\n") != 1+6+1 ||
		strings.Count(r.out, "(corrected by 6)") != 1 ||
		!strings.HasPrefix(r.out, "Invented Four:\n") ||
		!strings.Contains(r.out, "it was the other bank  (corrects 2)") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history", "show", "3"); !strings.Contains(r.out, "2026-03-03") {
		t.Errorf("number 3 is another record now: %s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history", "show", "6"); !strings.Contains(r.out, "it was the other bank") ||
		!strings.Contains(r.out, "\n  corrects 2\n") {
		t.Errorf("%s%s", r.out, r.err)
	}
	page := filepath.Join(dir, "page.html")
	r = evendraw(t, dir, "sheet", "6", "--out", page)
	if text, err := os.ReadFile(page); err != nil || !strings.Contains(string(text), "corrects 2<") {
		t.Errorf("the page does not say which it corrects: %s, %v", r.err, err)
	}
	if r = evendraw(t, dir, "history", "--json"); strings.Count(r.out, "\n") != 6 ||
		!strings.HasPrefix(r.out, `{"number":1,`) {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history", "show"); !strings.Contains(r.out, "cylinder 4") ||
		!strings.Contains(r.out, "no zero pass") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "compare"); !strings.Contains(r.out, "spread      8.0 → 0.3 kPa") ||
		!strings.Contains(r.out, "|") {
		t.Errorf("%s%s", r.out, r.err)
	}
	svg, png := filepath.Join(dir, "a.svg"), filepath.Join(dir, "a.png")
	if r = evendraw(t, dir, "compare", "1", "Invented Four:", "--svg", svg, "--png", png); r.status != 0 ||
		!strings.Contains(r.out, "2026-03-05") {
		t.Errorf("%s%s", r.out, r.err)
	}
	for file, start := range map[string]string{svg: "<?xml", png: "\x89PNG"} {
		if text, err := os.ReadFile(file); err != nil || !strings.HasPrefix(string(text), start) {
			t.Errorf("%s: %v", file, err)
		}
	}
	for _, args := range [][]string{{"history", "show", "99"}, {"history", "correct", "1"}, {"compare", "0"},
		{"export", "--format", "xml"}, {"history", "unfinished", "--keep", "1"}} {
		if r := evendraw(t, dir, args...); r.status != 2 {
			t.Errorf("%v: status %d, %s", args, r.status, r.err)
		}
	}
}

func TestTrendAndSheet(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 5)
	// Cylinder 4 draws more by the next time, every time: 4.7, 5.7 … above its place.
	r := evendraw(t, dir, "trend")
	if r.status != 0 || strings.Count(r.out, "not zeroed") != 2 || !strings.Contains(r.out, "cylinder 4: +") ||
		!strings.Contains(r.out, "◂ drifts") || !strings.Contains(r.out, "screw 1-2: −6.0") {
		t.Errorf("%s%s", r.out, r.err)
	}
	var trend struct{ Records, Drifts, Screws []any }
	if r = evendraw(t, dir, "trend", "--json"); json.Unmarshal([]byte(r.out), &trend) != nil ||
		len(trend.Records) != 5 || len(trend.Drifts) != 4 || len(trend.Screws) != 1 {
		t.Errorf("%s%s", r.out, r.err)
	}
	page, png := filepath.Join(dir, "page.html"), filepath.Join(dir, "page.png")
	if r = evendraw(t, dir, "sheet", "--out", page, "--png", png); r.status != 0 {
		t.Errorf("%s%s", r.out, r.err)
	}
	if text, err := os.ReadFile(page); err != nil || !strings.Contains(string(text), "carbon monoxide") ||
		!strings.Contains(string(text), "Invented Four") {
		t.Errorf("%v", err)
	}
}

// What a run that was cut off has left is told of, listed and kept.
func TestHistoryOfCutOffRuns(t *testing.T) {
	t.Parallel()
	dir, g := recordedGarage(t, 1)
	u, err := g.OpenUnfinished("Invented Four")
	if err != nil || u.Update(&garage.SyncRecord{IdlingSeconds: 75,
		Steps: []garage.RecordStep{{Screw: "1-2"}}}) != nil {
		t.Fatal(err)
	}
	left, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "unfinished", "*.level"))
	old := time.Now().Add(-time.Hour) // as if this program were gone
	os.Chtimes(left[0], old, old)
	r := evendraw(t, dir, "history")
	if !strings.Contains(r.err, "1 unfinished") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history", "unfinished"); !strings.Contains(r.out, "had run 1 min 15 s, 1 turn told") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history", "unfinished", "--keep", "1"); r.status != 0 {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r = evendraw(t, dir, "history"); !strings.Contains(r.out, "cut off") {
		t.Errorf("%s%s", r.out, r.err)
	}
}

// The export is a table to any reader of CSV, and each line of the other form is JSON.
func TestExport(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 3)
	r := evendraw(t, dir, "export")
	rows, err := csv.NewReader(strings.NewReader(r.out)).ReadAll()
	if err != nil || len(rows) != 1+3*4 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	if row := rows[8]; row[at["cylinder"]] != "4" || row[at["before_spread_kpa"]] != "5" ||
		row[at["opening_ratio"]] != "" || !strings.Contains(row[at["note"]], "\"quotes\"\nand") {
		t.Errorf("%q", row)
	}
	r = evendraw(t, dir, "export", "--format", "jsonl")
	n := 0
	for line := range strings.Lines(r.out) {
		var rec struct {
			Record string
			Before struct{ Cylinders []any }
			Lambda *float64
		}
		if err := json.Unmarshal([]byte(line), &rec); err != nil || filepath.Ext(rec.Record) != ".level" ||
			len(rec.Before.Cylinders) != 4 || rec.Lambda != nil {
			t.Errorf("%v %s", err, line)
		}
		n++
	}
	if n != 3 {
		t.Errorf("%d lines", n)
	}
}

// SQLite reads the export at once, by the commands that the help gives.
func TestExportIsReadBySQLite(t *testing.T) {
	t.Parallel()
	effort.Need(t, "sqlite3", "sqlite3")
	dir, _ := recordedGarage(t, 3)
	all, db := filepath.Join(dir, "all.csv"), filepath.Join(dir, "all.db")
	if r := evendraw(t, dir, "export", "--out", all); r.status != 0 {
		t.Fatal(r.err)
	}
	schema := exec.Command("sqlite3", db)
	schema.Stdin = strings.NewReader(evendraw(t, dir, "export", "--schema").out)
	if text, err := schema.CombinedOutput(); err != nil || len(text) > 0 {
		t.Fatalf("%v %s", err, text)
	}
	query := "SELECT count(*), avg(before_spread_kpa), sum(opening_ratio IS NULL), typeof(cylinder), " +
		"max(before_draw_kpa), count(DISTINCT record) FROM records"
	text, err := exec.Command("sqlite3", db, fmt.Sprintf(".import --csv --skip 1 %s records_text", all),
		query).CombinedOutput()
	if got := strings.TrimSpace(string(text)); err != nil || got != "12|5.0|12|integer|31.0|3" {
		t.Errorf("%v %s", err, got)
	}
}

// Row 23 of the fault table, by the verb: it names what is damaged, sets it aside, and ends
// with status 6; the rest goes on.
func TestGarageCheck(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 3)
	if r := evendraw(t, dir, "garage", "check"); r.status != 0 || !strings.Contains(r.out, "5 files read, 0 damaged") {
		t.Errorf("status %d\n%s%s", r.status, r.out, r.err)
	}
	records, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "syncs", "*.level"))
	text, err := os.ReadFile(records[1])
	if err != nil {
		t.Fatal(err)
	}
	text[100] ^= 4
	if err := os.WriteFile(records[1], text, 0o644); err != nil {
		t.Fatal(err)
	}
	if r := evendraw(t, dir, "garage", "check", "--look-only"); r.status != 6 || !strings.Contains(r.out, records[1]) {
		t.Errorf("status %d\n%s%s", r.status, r.out, r.err)
	}
	r := evendraw(t, dir, "garage", "check", "--json")
	var told struct {
		Files   int
		Damaged []struct {
			File  string
			Aside string `json:"set_aside"`
		}
	}
	if err := json.Unmarshal([]byte(r.out), &told); err != nil || r.status != 6 || len(told.Damaged) != 1 ||
		told.Damaged[0].File != records[1] {
		t.Fatalf("%v, status %d, %s", err, r.status, r.out)
	}
	if kept, err := os.ReadFile(told.Damaged[0].Aside); err != nil || string(kept) != string(text) {
		t.Errorf("%v", err)
	}
	if r := evendraw(t, dir, "garage", "check"); r.status != 0 || !strings.Contains(r.out, "was set aside earlier") {
		t.Errorf("status %d\n%s%s", r.status, r.out, r.err)
	}
	if r := evendraw(t, dir, "history"); strings.Count(r.out, "\n") != 1+2+1 || r.err != "" {
		t.Errorf("%s%s", r.out, r.err)
	}
}

// An old capture is compressed, and read as before.
func TestCompressedCapture(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 0)
	captures := filepath.Join(dir, "bikes", "Invented Four", "captures")
	os.MkdirAll(captures, 0o755)
	path := filepath.Join(captures, "a.cap")
	if r := virtually(t, dir, "record", "--practice", path, "--for", "3s"); r.status != 0 {
		t.Fatal(r.err)
	}
	before := evendraw(t, dir, "analyse", path, "--json")
	if r := evendraw(t, dir, "garage", "compress"); r.status != 0 || !strings.Contains(r.out, "compressed: 0") {
		t.Errorf("%s%s", r.out, r.err)
	}
	r := evendraw(t, dir, "garage", "compress", "--older", "0")
	if r.status != 0 || !strings.Contains(r.out, "captures compressed: 1") {
		t.Errorf("%s%s", r.out, r.err)
	}
	t.Log(strings.TrimSpace(r.out))
	after := evendraw(t, dir, "analyse", path+".gz", "--json")
	if before.out == "" || after.out != before.out || after.status != 0 {
		t.Errorf("status %d, %s", after.status, after.err)
	}
}

// A garage that can't be written to, and one that is full, stop nothing: the bank is levelled,
// and what was not saved is said.
func TestLiveGoesOnWithoutAGarage(t *testing.T) {
	t.Parallel()
	inTheWay := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(inTheWay, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	r := virtually(t, filepath.Join(inTheWay, "garage"), "live", "--practice", "--headless", "--json", "--for", "2s")
	if n := len(lines(t, r.out)); r.status != 0 || n < 10 || !strings.Contains(r.err, "nothing can be saved") {
		t.Errorf("status %d, %d lines, %s", r.status, n, r.err)
	}
	effort.Need(t, "bash", "bash")
	// Nothing over 10 KiB can be written: the capture ends, the readings go on.
	dir := t.TempDir()
	cmd := exec.Command("bash", "-c",
		fmt.Sprintf("trap '' XFSZ; ulimit -f 10; exec %q live --practice --headless --json --for 4s --capture %q "+
			"--garage %q", binary, filepath.Join(dir, "c.cap"), dir))
	var out, errOut strings.Builder
	cmd.Stdout, cmd.Stderr = &out, &errOut
	cmd.Run()
	all := lines(t, out.String())
	if len(all) < 10 || *all[len(all)-1].Time < 1.5 || !strings.Contains(errOut.String(), "could not be written") {
		t.Errorf("%d lines, %s", len(all), errOut.String())
	}
}

// What stands in files of somebody else does nothing to a terminal.
func TestHostileRecordsAreHarmless(t *testing.T) {
	t.Parallel()
	dir, g := recordedGarage(t, 1)
	bad := "\x1b]0;x\a\x1b[2J\u009b1m\u202e"
	rec := &garage.SyncRecord{Note: bad, Verdict: bad, Temperature: bad, Capture: "../../" + bad, PilotScrews: bad,
		Before: &garage.RecordReading{}, After: &garage.RecordReading{},
		Steps: []garage.RecordStep{{Screw: bad, Direction: bad}}, Effects: []garage.RecordEffect{{Screw: bad,
			KPaPerTurn: 1}}}
	if _, err := g.SaveSync("Invented Four", rec); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"history"}, {"history", "show"}, {"bike", "show"}, {"trend"}, {"compare"},
		{"export"}, {"garage", "check"}, {"sheet", "--out", filepath.Join(dir, "p.html")}} {
		r := evendraw(t, dir, args...)
		if r.status != 0 || strings.ContainsFunc(strings.NewReplacer("\n", "", "\t", "").Replace(r.out+r.err),
			plain.Steers) {
			t.Errorf("%v: status %d, %q", args, r.status, r.out+r.err)
		}
	}
	page, err := os.ReadFile(filepath.Join(dir, "p.html"))
	if text := strings.NewReplacer("\n", "", "\t", "").Replace(string(page)); err != nil ||
		strings.ContainsFunc(text, plain.Steers) {
		t.Errorf("the page: %v", err)
	}
	if r := evendraw(t, dir, "paths", "--json"); !json.Valid([]byte(r.out)) || !strings.Contains(r.out, `"captures"`) {
		t.Errorf("%s", r.out)
	}
}

// A bank that the virtual mechanic has levelled as far as screws can is saved in lines of JSON too, in doubt, though he
// has stopped the engine because of that.
func TestADoubtOfTheMechanicsIsSaved(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := virtually(t, dir, "live", "--json", "--auto", "--practice=tired-cylinder")
	g := invented.Garage(t, dir)
	records, damaged := g.AllSyncs()
	if r.status != 0 || len(records) != 1 || damaged != nil || records[0].Kept.Verdict != garage.VerdictDoubt ||
		!strings.Contains(r.err, "saved "+records[0].Path) {
		t.Errorf("status %d, records %+v, %v\n%s", r.status, records, damaged, r.err)
	}
}
