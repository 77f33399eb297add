package cli

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
	"evendraw/internal/invented"
	"evendraw/internal/tell"
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
	// In kPa, of another logger whose own zeroes are off; and again without the vented pump at its
	// beginning, where that is told.
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
	if r := evendraw(t, dir, "match", "--from", late, "--json", "--ambient", "99"); r.status != 1 ||
		!strings.Contains(r.err, "zero pass first") {
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
	if math.Abs(m.Gains[0]/m.Gains[1]-1.03) > 0.0005 || m.Saved != "" || m.Channels[0].Uncertainty == nil ||
		*m.Channels[0].Uncertainty > 0.002 {
		t.Errorf("%s", r.out)
	}
	if r := evendraw(t, dir, "match", "--from", path, "--channels", "0"); r.status != 1 ||
		!strings.Contains(r.err, "nothing to match") {
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
		return writeCapture(t, e, 6,
			"# recorded: "+date+"\n# ambient_kpa: 101.3\n# ambient_from: standard-atmosphere\n")
	}
	for _, c := range []struct{ date, words string }{
		{"2026-01-10T08:00:00Z", ""}, {"2026-02-10T08:00:00Z", ""}, {"2026-01-20T08:00:00Z", "newer zero pass"},
	} {
		r := evendraw(t, dir, "zero", "--from", dated(c.date))
		if r.status != 0 || !strings.Contains(r.err, c.words) {
			t.Errorf("%s: %+v", c.date, r)
		}
	}
	g := invented.Garage(t, dir)
	card, err := g.LoadBoard("PRACTICE")
	if err != nil || card.Zero == nil || !card.Zero.Time.Equal(time.Date(2026, 2, 10, 8, 0, 0, 0, time.UTC)) ||
		len(card.PreviousZeros) != 1 || card.Zero.Bits != 10 {
		t.Errorf("%+v, %v", card, err)
	}
}

func TestBoardKind(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := evendraw(t, dir, "board", "kind", "MPX4115A", "--supply", "5.1", "--json")
	var k struct{ Rows []tell.KindRow }
	if err := json.Unmarshal([]byte(r.out), &k); err != nil || r.status != 0 {
		t.Fatalf("%v %+v", err, r)
	}
	// The data sheet's two printed pairs at 5.1 V.
	for _, want := range []tell.KindRow{{KPa: 15, Volts: 0.204, Count: 40}, {KPa: 115, Volts: 4.794, Count: 962}} {
		i := slices.IndexFunc(k.Rows, func(x tell.KindRow) bool { return math.Abs(x.KPa-want.KPa) < 1e-9 })
		if i < 0 || math.Abs(k.Rows[i].Volts-want.Volts) > 0.0005 || k.Rows[i].Count != want.Count ||
			math.Abs(k.Rows[i].CountKPa-want.KPa) > 0.06 {
			t.Errorf("want %+v in %s", want, r.out)
		}
	}
	if r := evendraw(t, dir, "board", "kind"); !strings.Contains(r.out, "automotive-1bar") ||
		!strings.Contains(r.out, "from memory") {
		t.Errorf("%+v", r)
	}
	if r := evendraw(t, dir, "board", "kind", "thumb"); r.status != 2 || !strings.Contains(r.err, "two-point") {
		t.Errorf("%+v", r)
	}
}
