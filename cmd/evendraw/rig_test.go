package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// matchTable is a table of two sensors on a pump that is vented for six seconds and then worked in steps.
func matchTable(t *testing.T, gain float64) string {
	t.Helper()
	var table strings.Builder
	table.WriteString("t_us,kpa0,kpa1\n")
	for i := range 4000 { // 100 a second
		at := float64(i) / 100
		vacuum := 0.0
		if at > 6 {
			vacuum = 10 * math.Floor((at-6)/8+1)
		}
		p := 99.0 - vacuum + 0.02*math.Sin(float64(7*i))
		fmt.Fprintf(&table, "%d,%.4f,%.4f\n", i*10000, 99.5+gain*(p-99), 98.7+(p-99))
	}
	path := filepath.Join(t.TempDir(), "pump.csv")
	if err := os.WriteFile(path, []byte(table.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestMatchFromATable(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	// In kPa, of another logger whose own zeroes are off; and again without the vented pump at its beginning, where that is told.
	kpa := matchTable(t, 1.03)
	r := evendraw(t, dir, "match", "--from", kpa, "--json", "--ambient", "99")
	if r.status != 0 || !strings.Contains(r.out, `"gains":[1.01`) {
		t.Errorf("kPa: %+v", r)
	}
	text, err := os.ReadFile(kpa)
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.SplitAfter(string(text), "\n")
	late := filepath.Join(dir, "late.csv")
	os.WriteFile(late, []byte(rows[0]+strings.Join(rows[1000:], "")), 0o644)
	if r := evendraw(t, dir, "match", "--from", late, "--json", "--ambient", "99"); r.status != 1 || !strings.Contains(r.out, "zero pass first") {
		t.Errorf("kPa without a zero: %+v", r)
	}
	path := filepath.Join(dir, "v.csv")
	var out strings.Builder
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		var us int
		var p [2]float64
		if i == 0 {
			out.WriteString("t_us,v0,v1\n")
			continue
		}
		if _, err := fmt.Sscanf(line, "%d,%f,%f", &us, &p[0], &p[1]); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "%d,%.6f,%.6f\n", us, 5*(0.009*p[0]-0.095), 5*(0.009*p[1]-0.095)) // MPX4115A
	}
	os.WriteFile(path, []byte(out.String()), 0o644)
	r = evendraw(t, dir, "match", "--from", path, "--json")
	var m struct {
		Gains    []float64
		Saved    string
		Channels []struct {
			Uncertainty *float64
			Bend        *float64 `json:"bend_kpa"`
		}
	}
	if err := json.Unmarshal([]byte(r.out), &m); err != nil || r.status != 0 {
		t.Fatalf("%v %+v", err, r)
	}
	if math.Abs(m.Gains[0]/m.Gains[1]-1.03) > 0.0005 || m.Saved != "" || m.Channels[0].Uncertainty == nil || *m.Channels[0].Uncertainty > 0.002 {
		t.Errorf("%s", r.out)
	}
	if r := evendraw(t, dir, "match", "--from", path, "--channels", "0"); r.status != 1 || !strings.Contains(r.err, "nothing to match") {
		t.Errorf("one channel: %+v", r)
	}
}

// writeCapture writes seconds of an engine's bytes as a capture of that date, with the settings that a card would give.
func writeCapture(t *testing.T, e *engine.Engine, seconds float64, head string) string {
	t.Helper()
	var bytes []byte
	var d frame.Decoder
	buf := make([]byte, 4096)
	for n := 0.0; n < seconds*1000; {
		k, _ := e.Read(buf)
		bytes = append(bytes, buf[:k]...)
		d.Feed(append([]byte(nil), buf[:k]...))
		for _, ok := d.Next(); ok; _, ok = d.Next() {
			n++
		}
	}
	path := filepath.Join(t.TempDir(), "c.cap")
	if err := os.WriteFile(path, append([]byte("# evendraw capture 1\n"+head+"#\n"), bytes...), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A zero pass from a capture bears the capture's date, is kept with those before it, and an older one does not take
// the place of a newer one.
func TestZeroFromACaptureBearsItsDate(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 8})
	dated := func(date string) string {
		return writeCapture(t, e, 6, "# recorded: "+date+"\n# ambient_kpa: 101.3\n# ambient_from: standard-atmosphere\n")
	}
	for _, c := range []struct{ date, words string }{
		{"2026-01-10T08:00:00Z", ""}, {"2026-02-10T08:00:00Z", ""}, {"2026-01-20T08:00:00Z", "newer zero pass"},
	} {
		r := evendraw(t, dir, "zero", "--from", dated(c.date))
		if r.status != 0 || !strings.Contains(r.err, c.words) {
			t.Errorf("%s: %+v", c.date, r)
		}
	}
	g, err := garage.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	card, err := g.LoadBoard("PRACTICE")
	if err != nil || card.Zero == nil || !card.Zero.Time.Equal(time.Date(2026, 2, 10, 8, 0, 0, 0, time.UTC)) || len(card.PreviousZeros) != 1 || card.Zero.Bits != 10 {
		t.Errorf("%+v, %v", card, err)
	}
}

// What doesn't fit the board that answers is told of, and not used.
func TestFitCard(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)
	a := &frame.Announcement{Serial: "S", Channels: []frame.Channel{{Role: frame.Pressure}, {Role: frame.Pressure}}}
	same := []string{"MPX4115A", "MPX4115A"}
	for _, c := range []struct {
		name        string
		card        garage.Board
		words       string
		zero, match bool
	}{
		{"all well", garage.Board{Zero: &garage.ZeroCard{Time: now, OffsetsKPa: kPas(1, 2), Sensors: same}, Match: &garage.MatchCard{Time: now, Gains: []float64{1, 1}, Sensors: same}}, "", true, true},
		{"old", garage.Board{Zero: &garage.ZeroCard{Time: now.Add(-72 * time.Hour), OffsetsKPa: kPas(1, 2)}}, "3 days old", true, false},
		{"other layout", garage.Board{Zero: &garage.ZeroCard{Time: now, OffsetsKPa: kPas(1, 2, 3, 4)}, Match: &garage.MatchCard{Gains: []float64{1}}}, "4 channels", false, false},
		{"other sensors", garage.Board{Sensors: []string{"MPX4250A", "MPX4115A"}, Zero: &garage.ZeroCard{Time: now, OffsetsKPa: kPas(1, 2), Sensors: same},
			Match: &garage.MatchCard{Gains: []float64{1, 1}, Sensors: same}}, "other sensors", false, false},
		{"unknown kind", garage.Board{Sensors: []string{"thumb", "MPX4115A"}}, "thumb", false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			notes := strings.Join(fitCard(&c.card, a, now), "\n")
			if !strings.Contains(notes, c.words) || (c.words == "") != (notes == "") || (c.card.Zero != nil) != c.zero || (c.card.Match != nil) != c.match {
				t.Errorf("%q, %+v", notes, c.card)
			}
		})
	}
	// Hoses that setup has found stand for channels that nobody has changed.
	cfg := session.Config{Bank: &bank.Bank{Cylinders: 2, Channels: []int{0, 1}}}
	takeCard(&cfg, &garage.Board{Hoses: []int{1, 0}})
	if !slices.Equal(cfg.Bank.Channels, []int{1, 0}) {
		t.Errorf("channels %v", cfg.Bank.Channels)
	}
	cfg = session.Config{}
	if takeCard(&cfg, &garage.Board{Hoses: []int{2, 0, 1}}); cfg.Bank == nil || cfg.Bank.Cylinders != 3 || !slices.Equal(cfg.Bank.Channels, []int{2, 0, 1}) {
		t.Errorf("without a bike card: %+v", cfg.Bank)
	}
	if card := (garage.Board{Hoses: []int{1, 5}}); len(fitCard(&card, a, now)) == 0 || card.Hoses != nil {
		t.Error("a hose on a channel that there is not")
	}
	// More pressure channels than are read.
	six := &frame.Announcement{Channels: slices.Repeat([]frame.Channel{{Role: frame.Pressure}}, 6)}
	if note := leftAside(six, &session.Config{}); !strings.Contains(note, "channels 4 and 5") {
		t.Errorf("%q", note)
	}
	if note := leftAside(a, &session.Config{}); note != "" {
		t.Errorf("%q", note)
	}
}

func kPas(values ...pressure.KPa) []pressure.KPa { return values }

func TestBoardKind(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := evendraw(t, dir, "board", "kind", "MPX4115A", "--supply", "5.1", "--json")
	var k struct{ Rows []kindRow }
	if err := json.Unmarshal([]byte(r.out), &k); err != nil || r.status != 0 {
		t.Fatalf("%v %+v", err, r)
	}
	// The data sheet's two printed pairs at 5.1 V.
	for _, want := range []kindRow{{15, 0.204, 40, 15.06}, {115, 4.794, 962, 114.99}} {
		i := slices.IndexFunc(k.Rows, func(x kindRow) bool { return math.Abs(x.KPa-want.KPa) < 1e-9 })
		if i < 0 || math.Abs(k.Rows[i].Volts-want.Volts) > 0.0005 || k.Rows[i].Count != want.Count || math.Abs(k.Rows[i].CountKPa-want.KPa) > 0.06 {
			t.Errorf("want %+v in %s", want, r.out)
		}
	}
	if r := evendraw(t, dir, "board", "kind"); !strings.Contains(r.out, "automotive-1bar") || !strings.Contains(r.out, "from memory") {
		t.Errorf("%+v", r)
	}
	if r := evendraw(t, dir, "board", "kind", "thumb"); r.status != 2 || !strings.Contains(r.err, "two-point") {
		t.Errorf("%+v", r)
	}
}

// A new zero is asked for when sensors were seen to have moved, once for each time, and when the engine has warmed them; a new
// zero pass begins anew.
func TestRigNote(t *testing.T) {
	t.Parallel()
	var told rigTold
	snap := func(zeroed bool, zero *sensor.Zero, idling float64, d sensor.Drift) *session.Snapshot {
		return &session.Snapshot{Config: session.Config{Zeroed: zeroed}, Zero: session.ZeroState{Result: zero}, Journal: session.Journal{Idling: idling}, Drift: d}
	}
	moved := sensor.Drift{Seen: true, Time: 100, Channel: 2, Asks: true}
	moved.Own[2] = -0.5
	later, all := moved, sensor.Drift{Seen: true, Time: 300, Common: 1.5, Asks: true}
	later.Time = 200
	fresh := &sensor.Zero{}
	for i, step := range []struct {
		snap  *session.Snapshot
		words string
	}{
		{snap(false, nil, 1e4, moved), ""}, {snap(true, nil, 0, sensor.Drift{}), ""}, {snap(true, nil, 60, moved), "channel 2 has moved by −0.5 kPa"},
		{snap(true, nil, 61, moved), ""}, {snap(true, nil, 62, later), "channel 2"}, {snap(true, nil, 700, later), "12 minutes"}, {snap(true, nil, 900, later), ""},
		{snap(true, fresh, 900, sensor.Drift{}), ""}, {snap(true, fresh, 1400, sensor.Drift{}), ""}, {snap(true, fresh, 1400, all), "All sensors"}, {snap(true, fresh, 1600, all), "12 minutes"},
	} {
		if got := told.rigNote(step.snap, 10); !strings.Contains(got, step.words) || (step.words == "") != (got == "") {
			t.Errorf("step %d: %q, want %q", i, got, step.words)
		}
	}
}
