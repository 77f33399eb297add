package garage

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/pressure"
	"evendraw/internal/store"
)

// Files of format 1, as programs of different ages wrote them, are read for ever: none
// of testdata/format1 is ever changed. -1 are the first that there were.
func TestOldFilesAreRead(t *testing.T) {
	t.Parallel()
	dir := filepath.Join("testdata", "format1")
	r, err := LoadSync(filepath.Join(dir, "record-1.sync"))
	must(t, err)
	if r.Bike != "Invented Four" || r.Verdict != VerdictDone || len(r.Steps) != 3 || r.Before.SpreadKPa != 3.5 ||
		r.IdlingSeconds != 123.5 || r.Zero.AmbientKPa != 98.7 {
		t.Errorf("got %+v", r)
	}
	// What there was no key for is unknown, and not 0.
	if r.AltitudeM != nil || r.PilotTurnsOut != nil || r.Match != nil || r.Raised != nil ||
		!math.IsNaN(float64(r.Lambda)) ||
		!math.IsNaN(float64(r.After.Cylinders[0].OpeningRatio)) || !math.IsNaN(float64(r.Steps[0].SpreadAfterKPa)) {
		t.Errorf("what was not known is %+v", r)
	}
	full, err := LoadSync(filepath.Join(dir, "record-2.sync"))
	must(t, err)
	if *full.AltitudeM != 412.5 || !reflect.DeepEqual(full.PilotTurnsOut[:2], []NullFloat{2.25, 2.5}) ||
		full.Effects[0].KPaPerTurn != -6.25 ||
		full.Match.Gains[1] != 1.01 || full.CaptureSHA256 == "" || full.Corrects != "20260301T081112.345Z-abcd.sync" ||
		full.After.Cylinders[1].OpeningRatio != 1.02 {
		t.Errorf("got %+v", full)
	}
	s, err := loadBench(filepath.Join(dir, "sheet-2.bench"))
	if err != nil || s.Carburettors[3].PilotTurnsOut != 2.375 || s.Moment != BenchApart || s.PilotScrews != FuelScrews {
		t.Errorf("got %+v, %v", s, err)
	}
	f, err := loadChecksFile(filepath.Join(dir, "ticked-2.checks"))
	if err != nil || len(f.Ticks) != 2 || f.Ticks[1].Answer != TickNotNeeded {
		t.Errorf("got %+v, %v", f, err)
	}
	for _, n := range []string{"1"} {
		b, err := readBike(filepath.Join(dir, "bike-"+n+".toml"))
		if want := fullBike(); err != nil || b.Name != want.Name || !reflect.DeepEqual(b.Bank, want.Bank) ||
			b.LimitKPa != want.LimitKPa || b.Unknown != nil {
			t.Errorf("got %+v, %v", b, err)
		}
		text, err := store.Read(filepath.Join(dir, "board-"+n+".toml"))
		must(t, err)
		if _, b, err := parseBoard("board", text); err != nil || b.Serial != "S1" || b.Zero == nil {
			t.Errorf("got %+v, %v", b, err)
		}
	}
}

// fullRecord has every key that a record can have.
func fullRecord() *SyncRecord {
	r := someRecord()
	altitude := 412.5
	r.Begun, r.Corrects, r.AmbientFrom, r.AltitudeM, r.LevelBy = r.Time.Add(-1e11), "20260301T081112.345Z-abcd.sync",
		"zero-pass", &altitude, LevelByDraw
	r.Match = &RecordMatch{Time: r.Zero.Time, Gains: []float64{1, 1.01, 0.99, 1}}
	r.Rig = &RecordRig{Bits: 10, ReferenceMV: 5000, Ratiometric: true, Rate: 1000, SupplyMV: 5000,
		Channels: []int{0, 1, 2, 3},
		DriftKPa: []NullKPa{0.05, NullKPa(math.NaN()), 0,
			0}, CommonDriftKPa: 0.02, OffsetUncertaintyKPa: []pressure.KPa{0.01, 0.01, 0.02, 0.01}}
	r.Raised, r.Effects = r.After, []RecordEffect{{"1-2", -6.25, -0.375, 1.75}, {"3-4", NullFloat(math.NaN()), 0, 0}}
	r.StopEffectRPMPerTurn, r.PilotScrews, r.PilotTurnsOut, r.Lambda = 300, FuelScrews, []NullFloat{2.25, 2.5, 2.25,
		NullFloat(math.NaN())}, 0.95
	r.IdleWanted = &RecordRange{LowRPM: 1000, HighRPM: 1100}
	nan := NullFloat(math.NaN())
	r.Pilots = []RecordPilot{{2, "at-peak", 2.25, 0.1875, 0.2, 0.09, 41.5, 0},
		{3, "trimming", nan, -0.75, nan, nan, 0, 0.25}}
	r.Temperature, r.Capture, r.CaptureBytes, r.CaptureSHA256 = "warm, 20 °C", "2026-03-01T081112Z.cap", 123456,
		strings.Repeat("0a", 32)
	r.Steps[0].SpreadAfterKPa = 1.25
	r.Halts = &RecordHalts{FarTurned: []string{"1-2"}, IdleFell: true, LookedAgain: true}
	r.NutsUnconfirmed = []string{"3-4"}
	r.After.Cylinders[1].Doubt, r.Warmth = "lean", WarmthAssumed
	r.After.Cylinders[1].OpeningRatio, r.After.Cylinders[1].OpeningUncertainty = 1.02, 0.01
	return r
}

// Every field of a record has its place in a full one, so that the golden file shows them
// all; what is saved is what is read.
func TestFullRecord(t *testing.T) {
	t.Parallel()
	r := fullRecord()
	for f := range reflect.TypeOf(*r).Fields() {
		if f.IsExported() && f.Name != "Format" && f.Name != "Bike" &&
			reflect.ValueOf(*r).FieldByIndex(f.Index).IsZero() {
			t.Errorf("%s is not set", f.Name)
		}
	}
	g := openTest(t)
	path, err := g.SaveSync("Invented Four", r)
	must(t, err)
	got, err := LoadSync(path)
	must(t, err)
	want := *r
	want.Format, want.Bike = 1, "Invented Four"
	want.clean()
	if !sameRecord(&got, &want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if text := readText(t, path); strings.Contains(text, "NaN") || !strings.Contains(text, `"pilot_turns_out": [`) {
		t.Errorf("in the file:\n%s", text)
	}
}

// A newer format is refused politely, and is no damage.
func TestNewerFormatsAreRefused(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	for path, text := range map[string]string{
		"bikes/a/bike.toml": "format = 2\n", "boards/s1.toml": "format = 2\n",
		"bikes/a/syncs/n.sync":      string(store.Seal([]byte(`{"format": 2, "time": []}`))),
		"bikes/a/bench/n.bench":     string(store.Seal([]byte(`{"format": 2}`))),
		"bikes/a/bench/n.checks":    string(store.Seal([]byte(`{"format": 9}`))),
		"bikes/a/unfinished/n.sync": string(store.Seal([]byte(`{"format": 2}`))),
	} {
		path = filepath.Join(g.dir, filepath.FromSlash(path))
		must(t, os.MkdirAll(filepath.Dir(path), 0o777))
		must(t, os.WriteFile(path, []byte(text), 0o666))
	}
	r := g.Inspect()
	if r.Files != 6 || len(r.Damaged) != 6 {
		t.Errorf("%d, %v", r.Files, r.Damaged)
	}
	for _, e := range r.Damaged {
		if !e.Newer || !strings.Contains(e.Error(), "newer evendraw reads it") || CanSetAside(e) {
			t.Errorf("%+v", e)
		}
	}
}

// Two laptops' garages become one by copying folders: of bikes that both have, the
// records of both are there.
func TestGaragesMergeByCopying(t *testing.T) {
	t.Parallel()
	one, other := fullGarage(t), fullGarage(t)
	b := DefaultBike("Only there", 2)
	must(t, other.NewBike(&b))
	path, err := other.SaveSync("only there", someRecord())
	must(t, err)
	must(t, err)
	// CopyFS refuses to overwrite: what both have under one name is a card.
	copied := os.DirFS(other.dir)
	for _, name := range []string{"bikes/Invented Four/bike.toml", "boards/s1.toml", "last"} {
		must(t, os.Remove(filepath.Join(other.dir, filepath.FromSlash(name))))
	}
	must(t, os.CopyFS(one.dir, copied))
	r := one.Inspect()
	if r.Damaged != nil || r.Files != 7+4+2 {
		t.Errorf("%+v", r)
	}
	heads, damaged := one.ListSyncs("Invented Four")
	sheets, _ := one.ListBench("Invented Four")
	if len(heads) != 2 || len(sheets) != 2 || damaged != nil {
		t.Errorf("%d records, %d sheets, %v", len(heads), len(sheets), damaged)
	}
	if heads, _ := one.ListSyncs("Only there"); len(heads) != 1 || filepath.Base(heads[0].Path) != filepath.Base(path) {
		t.Errorf("got %v", heads)
	}
	bikes, _ := one.ListBikes()
	if !slices.ContainsFunc(bikes, func(b Bike) bool { return b.Name == "Only there" }) {
		t.Errorf("bikes %v", bikes)
	}
}

// A record with keys of a later program is corrected without losing them.
func TestCorrectionKeepsUnknownKeys(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path, err := g.SaveSync("x", fullRecord())
	must(t, err)
	text := readText(t, path)
	body := strings.TrimSuffix(text[:len(text)-store.SealLength], "\n}\n") + ",\n  \"weather\": [\"dry\", null]\n}\n"
	must(t, os.WriteFile(path, store.Seal([]byte(body)), 0o666))
	r, err := LoadForChange(path)
	must(t, err)
	r.Note, r.Corrects = "it was cylinder 2", filepath.Base(path)
	again, err := g.SaveSync("x", &r)
	must(t, err)
	if text := readText(t, again); !strings.Contains(text, `"weather": [`) || !strings.Contains(text, `"dry",`) {
		t.Errorf("in the file:\n%s", text)
	}
	if got, err := LoadSync(again); err != nil || got.Corrects != filepath.Base(path) ||
		got.Note != "it was cylinder 2" {
		t.Errorf("%+v, %v", got, err)
	}
}
