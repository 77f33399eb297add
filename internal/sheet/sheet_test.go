package sheet

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/garage"
	"evendraw/internal/plot"
	"evendraw/internal/pressure"
)

// All bikes in these tests are invented.

func reading(rpm, spread float64, draws ...float64) *garage.RecordReading {
	r := &garage.RecordReading{RPM: garage.NullFloat(rpm), SpreadKPa: garage.NullKPa(spread),
		SpreadUncertaintyKPa: 0.05}
	for i, d := range draws {
		r.Cylinders = append(r.Cylinders, garage.RecordCylinder{Cylinder: i + 1, Channel: i, DrawKPa: garage.NullKPa(d),
			DifferenceKPa: garage.NullKPa(d - draws[0]), UncertaintyKPa: 0.06, RippleKPa: 40, State: "ok",
			OpeningRatio: garage.NullFloat(1 + 0.01*float64(i)), OpeningUncertainty: 0.01})
	}
	return r
}

// someRecord is a levelled four on a day of March.
func someRecord(day int) *garage.SyncRecord {
	altitude := 412.0
	r := &garage.SyncRecord{Program: "0.1.0", Time: time.Date(2026, 3, day, 10, 0, 0, 0, time.UTC),
		Bike: "Invented Four", Board: garage.RecordBoard{Serial: "S1", Program: "1.0"},
		Zero: &garage.RecordZero{Time: time.Date(2026, 3, day, 9, 50, 0, 0, time.UTC)}, AmbientKPa: 96.4,
		AltitudeM: &altitude, Reference: 1, Unit: "kPa", AimKPa: 0.5, LimitKPa: 2.7,
		Before: reading(1080, 6.3, 22.1, 25.4+0.1*float64(day), 28.4, 24.0),
		After:  reading(1100, 0.31, 25.0, 25.2, 24.9, 25.1), Raised: reading(3010, 0.8, 20, 20.3, 20.8, 20.1),
		Effects: []garage.RecordEffect{{Screw: "1-2", KPaPerTurn: -6.2, Factor: 1.75},
			{Screw: "3-4", KPaPerTurn: 5.8 + 0.2*garage.NullFloat(day%3)}, {Screw: "2-3", KPaPerTurn: -9.1}},
		PilotTurnsOut: []garage.NullFloat{2.25, 2.25, 2.375, 2.125}, Lambda: 0.96, IdlingSeconds: 252,
		Verdict: garage.VerdictDone, Temperature: "warm, 18 °C in the shade",
		Note: "New boots on 3 and 4.\nLook at the choke cable next time.", StopEffectRPMPerTurn: 300}
	for i, s := range []float64{6.3, 4.1, 3.2, 2.0, 1.1, 0.6} {
		r.Steps = append(r.Steps, garage.RecordStep{TimeS: garage.NullFloat(20 * i),
			Screw: []string{"1-2", "3-4", "2-3"}[i/2], Direction: "clockwise",
			Turns: []garage.NullFloat{0.375, 0.125, 0.25}[i%3], SpreadBeforeKPa: garage.NullKPa(s)})
	}
	return r
}

func somePage() *Page {
	b := bank.Default(4)
	sheet := garage.NewBenchCard(&b, garage.BenchTogether)
	for i := range sheet.Carburettors {
		c := &sheet.Carburettors[i]
		c.PilotTurnsOut, c.MainJet, c.PilotJet, c.NeedleClip = 2.25, "112.5", "40", 3
		c.FloatHeightMM, c.Gaskets, c.ORings = 14.5, garage.PartsRenewed, garage.PartsReused
	}
	r := someRecord(14)
	r.Effects[0].NetTurns, r.After.Cylinders[3].Doubt = 0.375, string(advice.WhyMisfires)
	r.NutsUnconfirmed = []string{"2-3"}
	return &Page{Record: r, Bench: &sheet, Unit: pressure.Kilopascal}
}

func pageOf(t *testing.T, p *Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestPage(t *testing.T) {
	p := somePage()
	text := pageOf(t, p)
	for _, piece := range []string{"Invented Four", "level", "Spread 0.3 kPa ±0.1, was 6.3; limit 2.7", "+0.2 ±0.1",
		"2 1/4", "2 3/8", "112.5", "14.5", "1-2: about 3/8 of a turn clockwise", "cylinder 4: it misfires", "New boots",
		"carbon monoxide", "A4", "1100 rpm", "412 m above the sea", "zeroed", "0.960", "4 min 12 s",
		"spread 0.8 kPa at 3010 rpm", "lock nut of 2-3 not confirmed tight"} {
		if !strings.Contains(html.UnescapeString(text), piece) {
			t.Errorf("no %q on the page", piece)
		}
	}
	p.Record.Pilots = []garage.RecordPilot{{Cylinder: 2, Found: "at-peak", StartTurnsOut: 2, BestTurns: 0,
		UncertaintyTurns: 0.06}}
	if want := "pilot screw 2: best at 2 turns out, sure to ±0.06 turns"; !strings.Contains(pageOf(t, p), want) {
		t.Errorf("no %q on the page", want)
	}
	p.Record.Pilots = nil
	p.Record.After.Cylinders[1].State = string(cycle.RailLow)
	if want := "Spread 0.3 kPa ±0.1, without cylinder 2, was 6.3"; !strings.Contains(pageOf(t, p), want) {
		t.Errorf("no %q on the page", want)
	}
	p.Record.After.Cylinders[1].State = string(cycle.OK)
	if n := strings.Count(text, "<svg "); n != 2 {
		t.Errorf("%d plots", n)
	}
	// Nothing is fetched: the only address is the name of XML's vocabulary.
	rest := strings.ReplaceAll(text, `xmlns="http://www.w3.org/2000/svg"`, "")
	for _, bad := range []string{"http:", "https:", "//", "<script", "<link", "@import", "src=", "url("} {
		if strings.Contains(rest, bad) {
			t.Errorf("%q is on the page", bad)
		}
	}
	if again := pageOf(t, p); again != text {
		t.Error("the same page is not the same twice")
	}
}

// Texts from outside stay texts.
func TestPageOfHostileTexts(t *testing.T) {
	p := somePage()
	bad := "<script>alert(1)</script>\"'&</style>\u202e"
	p.Record.Bike, p.Record.Note, p.Bench.Carburettors[0].MainJet = bad, bad, bad
	p.Record.Steps[0].Screw, p.Record.Effects[0].Screw = bad, bad
	text := pageOf(t, p)
	if strings.ContainsAny(text, "\u202e") || strings.Contains(text, "<script") ||
		strings.Count(text, "</style>") != 1 {
		t.Errorf("got through:\n%s", text)
	}
}

// A record with little in it has a page too, in every unit, and so has the picture.
func TestPagesOfLittle(t *testing.T) {
	nan := garage.NullKPa(math.NaN())
	unknown := &garage.RecordReading{RPM: garage.NullFloat(nan), SpreadKPa: nan, SpreadUncertaintyKPa: nan,
		Cylinders: []garage.RecordCylinder{{Cylinder: 1, DrawKPa: nan}, {Cylinder: 2, DrawKPa: nan}}}
	for name, r := range map[string]*garage.SyncRecord{
		"nothing": {AmbientKPa: nan}, "unknown": {AmbientKPa: nan, Before: unknown, After: unknown},
		"long": {Bike: strings.Repeat("x", 400), Note: strings.Repeat("word ", 300), After: reading(1000, 1, 24, 25)},
		"full": someRecord(1),
	} {
		t.Run(name, func(t *testing.T) {
			for _, u := range pressure.Units() {
				p := &Page{Record: r, Unit: u}
				var b bytes.Buffer
				if err := p.HTML(&b); err != nil {
					t.Errorf("%v", err)
				}
				if u == pressure.Kilopascal || u == pressure.InchHg {
					b.Reset()
					if err := p.PNG(&b); err != nil {
						t.Errorf("%v", err)
					}
				}
			}
		})
	}
}

func TestPicture(t *testing.T) {
	var b bytes.Buffer
	if err := somePage().PNG(&b); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	size := img.Bounds().Size()
	if size.X < 1000 || size.X > 1200 || size.Y < size.X || size.Y > 4*size.X {
		t.Errorf("%v", size)
	}
	dark := 0
	for y := 0; y < size.Y; y += 3 {
		for x := 0; x < size.X; x += 3 {
			if r, g, b, _ := img.At(x, y).RGBA(); r+g+b < 3*0x4000 {
				dark++
			}
		}
	}
	if dark < 2000 {
		t.Errorf("only %d dark points", dark)
	}
}

func someTrend() garage.Trend {
	random := rand.New(rand.NewPCG(1, 2))
	var records []garage.StoredSync
	for day := 1; day < 28; day += 4 {
		r := someRecord(day)
		for i := range r.Before.Cylinders {
			r.Before.Cylinders[i].DrawKPa += garage.NullKPa(0.4 * random.NormFloat64())
		}
		records = append(records, garage.StoredSync{Path: fmt.Sprintf("%02d.sync", day), Kept: *r})
	}
	return garage.TrendOf(records)
}

func TestTrendPlots(t *testing.T) {
	trend := someTrend()
	places, effects := TrendPlots(&trend, pressure.MillimetreHg)
	if places == nil || effects == nil {
		t.Fatal("no plots")
	}
	for _, p := range []*plot.Chart{places, effects} {
		var svg, again, picture bytes.Buffer
		if err := p.SVG(&svg); err != nil {
			t.Fatal(err)
		}
		p.SVG(&again)
		text := svg.String()
		if text != again.String() || !strings.Contains(text, "mmHg") || !strings.Contains(text, "2026-03-01") {
			t.Error("the SVG is not what it should be")
		}
		if err := p.PNG(&picture); err != nil {
			t.Fatal(err)
		}
		if _, err := png.Decode(&picture); err != nil {
			t.Error(err)
		}
	}
	if _, effects := TrendPlots(&garage.Trend{}, pressure.Kilopascal); effects != nil {
		t.Error("a plot of nothing")
	}
	for i := range trend.Points {
		trend.Points[i].Zeroed = i > 0
	}
	marked, _ := TrendPlots(&trend, pressure.MillimetreHg)
	var svg bytes.Buffer
	places.SVG(&svg)
	if strings.Contains(svg.String(), "not zeroed") {
		t.Error("marked where all are zeroed")
	}
	svg.Reset()
	if marked.SVG(&svg); !strings.Contains(svg.String(), "not zeroed") {
		t.Error("a record without a zero pass is not marked")
	}
	one := garage.TrendOf([]garage.StoredSync{{Path: "a.sync", Kept: *someRecord(1)}})
	places, _ = TrendPlots(&one, pressure.Kilopascal)
	if err := places.SVG(&bytes.Buffer{}); err != nil {
		t.Error(err)
	}
}

// In a browser the page is one sheet of A4.
func TestPageIsOneSheet(t *testing.T) {
	effort.Need(t, "chromium", "chromium")
	dir := t.TempDir()
	p := somePage()
	for len(p.Record.Steps) < 30 {
		p.Record.Steps = append(p.Record.Steps, p.Record.Steps[0])
	}
	p.Record.Note += strings.Repeat("\nThe maker's manual and the law of the place come first.", 2)
	page, out := filepath.Join(dir, "page.html"), filepath.Join(dir, "page.pdf")
	if err := os.WriteFile(page, []byte(pageOf(t, p)), 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithTimeout(t.Context(), effort.Hang)
	defer stop()
	cmd := exec.CommandContext(ctx, "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync",
		"--user-data-dir="+filepath.Join(dir, "user"),
		"--no-pdf-header-footer", "--print-to-pdf="+out, "file://"+page)
	cmd.Env = append(os.Environ(), "HOME="+dir)
	if text, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, text)
	}
	pdf, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(pdf, []byte("/Type /Page\n")) + bytes.Count(pdf, []byte("/Type /Page ")); n != 1 {
		t.Errorf("%d pages", n)
	}
}
