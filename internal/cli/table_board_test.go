package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// pulsing writes a table of two cylinders at 900 rpm whose sensors read too much by an offset and a gain, every
// skipped-th row left out, 0 for none; engine is false for a vented one.
func pulsing(t *testing.T, dir, name string, engine bool, skipped int) string {
	t.Helper()
	var table strings.Builder
	table.WriteString("t_us,kpa0,kpa1\n")
	for i := range 7000 { // 500 a second
		if skipped > 0 && i%skipped == skipped-1 {
			continue
		}
		var p [2]float64
		for c := range p {
			p[c] = 99
			if x := math.Mod(float64(i)/500*7.5+float64(c)/2, 1); engine && x < 0.4 {
				p[c] -= 50 * math.Pow(math.Sin(x/0.4*math.Pi), 2)
			}
			p[c] += 0.02 * math.Sin(float64(7*i+c))
		}
		fmt.Fprintf(&table, "%d,%.4f,%.4f\n", i*2000, p[0]+0.5, p[1]-1)
	}
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(table.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A table that names its board is read with that board's passes, and its own passes go onto that card; without one
// nothing is said to be taken off from now on. Rows that are missing one by one are counted.
func TestTablesOfABoard(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	still, turns := pulsing(t, dir, "still.csv", false, 0), pulsing(t, dir, "turns.csv", true, 50)
	difference := func(args ...string) (kpa float64, lost int) {
		r := evendraw(t, dir, append([]string{"analyse", turns, "--json", "--ambient", "99"}, args...)...)
		lines := strings.Split(strings.TrimSpace(r.out), "\n")
		var last struct {
			Summary struct {
				Lost      int
				Cylinders []struct {
					Difference float64 `json:"difference_kpa"`
				}
			}
		}
		if err := json.Unmarshal([]byte(lines[len(lines)-1]), &last); err != nil || r.status != 0 {
			t.Fatalf("%v: %+v", err, r)
		}
		return last.Summary.Cylinders[1].Difference, last.Summary.Lost
	}
	before, lost := difference()
	if math.Abs(before-1.5) > 0.1 || lost != 7000/50-1 {
		t.Errorf("difference %.2f kPa, want 1.5; %d rows lost, want %d", before, lost, 7000/50-1)
	}
	if r := evendraw(t, dir, "zero", "--from", still, "--ambient", "99"); !strings.Contains(r.err, "--board") {
		t.Errorf("%+v", r)
	}
	if r := evendraw(t, dir, "zero", "--from", still, "--board", "LOGGER", "--ambient", "99"); r.status != 0 ||
		!strings.Contains(r.out, "kept in") {
		t.Errorf("%+v", r)
	}
	// The only board that has a card is the one that is meant.
	if r := evendraw(t, dir, "board", "show"); r.status != 0 || !strings.Contains(r.out, "LOGGER") {
		t.Errorf("%+v", r)
	}
	if r := evendraw(t, dir, "board", "show", "LOGER"); r.status != 2 || !strings.Contains(r.err, "is LOGGER meant") {
		t.Errorf("%+v", r)
	}
	if r := evendraw(t, dir, "board", "list"); !strings.Contains(r.out, "LOGGER") {
		t.Errorf("%+v", r)
	}
	if after, _ := difference("--board", "LOGGER"); math.Abs(after) > 0.1 {
		t.Errorf("difference %.2f kPa with the board's zero, want 0", after)
	}
	pump := matchTable(t, 1.03)
	if r := evendraw(t, dir, "match", "--from", pump, "--ambient", "99"); strings.Contains(r.out, "from now on") {
		t.Errorf("%+v", r)
	}
	if r := evendraw(t, dir, "match", "--from", pump, "--board", "LOGGER", "--ambient", "99"); r.status != 0 ||
		!strings.Contains(r.out, "from now on") {
		t.Errorf("%+v", r)
	}
}

// An air pressure that is given gives way to the zero in force, which is said, and is what the next zero takes.
func TestTheNextZeroTakesTheAirPressure(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	still, turns := pulsing(t, dir, "still.csv", false, 0), pulsing(t, dir, "turns.csv", true, 50)
	if r := evendraw(t, dir, "zero", "--from", still, "--board", "LOGGER", "--ambient", "99"); r.status != 0 {
		t.Fatalf("%+v", r)
	}
	r := evendraw(t, dir, "analyse", turns, "--board", "LOGGER", "--ambient", "98.5")
	if !strings.Contains(r.err, "--ambient 98.5 counts from a new zero on: the zero in force") {
		t.Errorf("%+v", r)
	}
	if r = evendraw(t, dir, "analyse", turns, "--board", "LOGGER"); strings.Contains(r.err, "ambient") {
		t.Errorf("%+v", r)
	}
	r = evendraw(t, dir, "zero", "--from", still, "--board", "LOGGER", "--ambient", "98.5", "--json")
	if !strings.Contains(r.out, `"ambient_kpa":98.5`) && !strings.Contains(r.out, `"ambient_kpa": 98.5`) {
		t.Errorf("%+v", r)
	}
}
