package garage

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/effort"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/store"
)

func someReading(spread pressure.KPa) *balance.Reading {
	nan := pressure.KPa(math.NaN())
	r := &balance.Reading{Time: 12.5, RPM: 1003.7, Steady: true, Reference: 3, Spread: spread, SpreadUncertainty: 0.04,
		Cycles: 40,
		Advice: advice.Advice{Kind: advice.Turn, Screw: 0, ScrewName: "1-2", Direction: advice.Clockwise,
			Turns: math.NaN()}}
	for c := range 4 {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: c + 1, Channel: c, Draw: 35.25 + pressure.KPa(c),
			Difference:  pressure.KPa(c) - 2,
			Uncertainty: 0.0625, Ripple: nan, State: "ok"})
	}
	return r
}

func someRecord() *SyncRecord {
	first, last := someReading(3.5), someReading(0.25)
	r := &SyncRecord{
		Program: "0.1.0", Time: time.Date(2026, 3, 1, 10, 11, 12, 345e6, time.FixedZone("", 7200)),
		Board:   RecordBoard{"S1", "invented board", "1.0"},
		Sensors: []string{"KIND-A", "KIND-A", "KIND-B", "KIND-B"},
		Zero: &RecordZero{Time: time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC), AmbientKPa: 98.7,
			OffsetsKPa: []pressure.KPa{0.25, -0.125, 0.5, 0}},
		AmbientKPa: 98.7, Reference: 3, Unit: "mmHg", AimKPa: 0.5, LimitKPa: 2.7, Before: ReadingRecord(first),
		After:         ReadingRecord(last),
		IdlingSeconds: 123.5, Verdict: VerdictDone, Note: "warm, 20 °C\nfan on",
	}
	for range 3 {
		r.Steps = append(r.Steps, RecordStep{TimeS: 12.5, Screw: "1-2", Direction: "clockwise",
			Turns: NullFloat(math.NaN()), SpreadBeforeKPa: 3.5})
	}
	return r
}

// syncText returns the content of a record's file.
func syncText(r *SyncRecord) ([]byte, error) { return sealedText(r, r.unknown) }

// parseSync reads the content of a record's file.
func parseSync(text []byte) (r SyncRecord, err error) {
	_, err = parseSealed(text, &r)
	return r, err
}

// sameRecord compares records, NaN being equal to itself.
func sameRecord(a, b *SyncRecord) bool {
	x, errX := syncText(a)
	y, errY := syncText(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}

func TestSyncRoundTrip(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	rec := someRecord()
	path, err := g.SaveSync("invented four", rec)
	must(t, err)
	if name := filepath.Base(path); !strings.HasPrefix(name, "20260301T081112.345Z-1-") ||
		len(name) != len("20260301T081112.345Z-1-abcd.level") {
		t.Errorf("file name %s", name)
	}
	got, err := LoadSync(path)
	must(t, err)
	want := *rec
	want.Format, want.Bike = 1, "Invented Four"
	want.clean()
	if !sameRecord(&got, &want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if !math.IsNaN(float64(got.Steps[0].Turns)) || !math.IsNaN(float64(got.Before.Cylinders[0].RippleKPa)) ||
		got.Before.Cylinders[1].DrawKPa != 36.25 {
		t.Errorf("figures: %+v", got)
	}
	text := readText(t, path)
	for _, piece := range []string{`"format": 1,`, `"turns": null`, `"ripple_kpa": null`,
		`"time": "2026-03-01T08:11:12.345Z"`, `"verdict": "done"`, "\nsha256 "} {
		if !strings.Contains(text, piece) {
			t.Errorf("no %s in\n%s", piece, text)
		}
	}
	// Nothing but the checksum stands after the JSON, and unknown is null.
	empty := &SyncRecord{AmbientKPa: NullKPa(math.NaN())}
	path, err = g.SaveSync("no card", empty)
	must(t, err)
	if got, err = LoadSync(path); err != nil || got.Zero != nil || got.Before != nil || got.Bike != "no card" ||
		got.Time.IsZero() || !math.IsNaN(float64(got.AmbientKPa)) {
		t.Errorf("got %+v, %v", got, err)
	}
}

// Row 23 of the fault table: every single bit of a record flipped is seen,
// and so is every other length.
func TestEveryBitFlipOfARecord(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path, err := g.SaveSync("x", someRecord())
	must(t, err)
	text := []byte(readText(t, path))
	if len(text) < 2000 {
		t.Errorf("the record has only %d bytes", len(text))
	}
	flips := 0
	for i := 0; i < len(text); i += effort.Of(5, 1) {
		for bit := range 8 {
			text[i] ^= 1 << bit
			if _, err := parseSync(text); err == nil {
				t.Errorf("byte %d bit %d is not seen", i, bit)
			}
			text[i] ^= 1 << bit
			flips++
		}
		if _, err := parseSync(text[:i]); err == nil {
			t.Errorf("cut to %d bytes is not seen", i)
		}
		if _, err := parseSync(append(slices.Clone(text), text[i])); err == nil {
			t.Error("one byte more is not seen")
		}
	}
	if _, err := parseSync(text); err != nil {
		t.Errorf("the record itself: %v", err)
	}
	t.Logf("count: %d of %d bit flips in a record reported", flips, 8*len(text))
}

func TestDamagedRecordsStandApart(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("x", 4)
	must(t, g.NewBike(&b))
	var paths []string
	for n := range 6 {
		rec := someRecord()
		rec.Time = rec.Time.Add(time.Duration(n) * time.Second)
		path, err := g.SaveSync("x", rec)
		must(t, err)
		paths = append(paths, path)
	}
	must(t, os.WriteFile(paths[1], []byte(readText(t, paths[1])[1:]), 0o666))
	must(t, os.WriteFile(paths[2], store.Seal([]byte(`{"format": 2, "time": 7}`)), 0o666))
	must(t, os.WriteFile(paths[3], store.Seal([]byte("{\"format\": 1,\n\"reference\": \"x\"}")), 0o666))
	must(t, os.Remove(paths[4]))
	must(t, os.Mkdir(paths[4], 0o777))
	old := strings.TrimSuffix(paths[0], recordEnding) + oldRecordEnding // of an earlier version
	must(t, os.Rename(paths[0], old))
	paths[0] = old
	records, damaged := g.ListSyncs("x")
	if len(records) != 2 || records[0].Path != paths[0] || records[1].Path != paths[5] {
		t.Errorf("got records %+v", records)
	}
	if len(damaged) != 4 {
		t.Fatalf("damaged: %v", damaged)
	}
	for i, want := range []string{"checksum", "newer", "line 2: reference", "plain file"} {
		if e := damaged[i]; e.Path != paths[i+1] || !strings.Contains(e.Error(), want) {
			t.Errorf("got %v, want %s and %q", e, paths[i+1], want)
		}
	}
	if r := g.Inspect(); r.Files != 7 || !reflect.DeepEqual(r.Damaged, damaged) {
		t.Errorf("check of %d files: %v", r.Files, r.Damaged)
	}
}

func TestRecordsHoldNoControlCharacters(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	rec := someRecord()
	rec.Note, rec.Board.Model, rec.Steps[0].Screw, rec.Before.Cylinders[0].State = "a\x1b]0;x\ab\nc", "m\x7f",
		"\u009b2J", "\u202e"
	path, err := g.SaveSync("x", rec)
	must(t, err)
	if text := readText(t, path); strings.Contains(text, "u001b") ||
		strings.ContainsFunc(strings.ReplaceAll(text, "\n", ""), plain.Steers) {
		t.Errorf("in the file:\n%s", text)
	}
	if rec.Steps[0].Screw != "\u009b2J" || rec.Before.Cylinders[0].State != "\u202e" {
		t.Error("the caller's record was changed")
	}
	foreign := *rec // made by somebody else
	foreign.Format = 1
	body, err := syncText(&foreign)
	must(t, err)
	got, err := parseSync(body)
	must(t, err)
	if got.Note != "a.]0;x.b\nc" || got.Board.Model != "m." || got.Before.Cylinders[0].State != "." {
		t.Errorf("got %+v", got)
	}
}

// Many records of one instant have files of their own.
func TestManyRecordsOfOneInstant(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	seen := map[string]bool{}
	n := effort.Of(20, 100)
	for range n {
		path, err := g.SaveSync("x", someRecord())
		must(t, err)
		if seen[path] {
			t.Fatalf("%s twice", path)
		}
		seen[path] = true
	}
	if records, damaged := g.ListSyncs("x"); len(records) != n || damaged != nil {
		t.Errorf("listed %d, damaged %v", len(records), damaged)
	}
}

// hostileRecords are made to take time or memory.
var hostileRecords = []struct{ name, body string }{
	{"many cylinders", `{"format": 1, "before": {"cylinders": [` + strings.Repeat(`{},`, 100_000) + `{}]},
		"pilot_turns_out": [` + strings.Repeat("1,", 100_000) + `1]}`},
	{"deep lists", `{"format": 1, "time": "2026-03-01T08:11:12Z", "steps": [` + strings.Repeat(`[`, 100_000) + `]}`},
	{"large numbers", `{"format": 1, "after": {"rpm": 1e999,
		"cylinders": [{"cylinder": -2147483648}, {"cylinder": 9223372036854775807}]}}`},
	{"negative format", `{"format": -1}`},
	{"large format", `{"format": 9223372036854775808}`},
	{"format 1e3", `{"format": 1e3}`},
	{"list", `[]`}, {"null", `null`}, {"nothing", ``},
}

// A record that claims a million cylinders is read, and has no more than any bank.
func TestHostileRecordsStaySmall(t *testing.T) {
	t.Parallel()
	for _, c := range hostileRecords {
		t.Run(c.name, func(t *testing.T) {
			r, err := parseSync(store.Seal([]byte(c.body)))
			if err == nil && (r.Before == nil || len(r.Before.Cylinders) > maxListEntries ||
				len(r.PilotTurnsOut) > maxListEntries) {
				t.Errorf("was read as %.200v", r)
			}
		})
	}
}

// None of them takes the processor long.
func TestQuietHostileRecords(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) (figures []effort.Figure) {
		for _, c := range hostileRecords {
			begin := cpuTime()
			parseSync(store.Seal([]byte(c.body)))
			figures = append(figures, effort.Millis(c.name, cpuTime()-begin, time.Second))
		}
		return figures
	})
}
