package cli

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A capture that was written as a table of pressures reads as the capture does, and nothing is overwritten unasked.
func TestACaptureBecomesATable(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	capture, table := filepath.Join(dir, "c.cap"), filepath.Join(dir, "c.csv")
	if r := virtually(t, dir, "record", "--practice", capture, "--for", "3s"); r.status != 0 {
		t.Fatal(r.err)
	}
	if r := evendraw(t, dir, "export", capture, "--kpa", "--out", table); r.status != 0 ||
		!strings.Contains(r.err, "no zero pass") {
		t.Fatal(r.err)
	}
	last := func(name string) *line {
		r := evendraw(t, dir, "analyse", name, "--json")
		all := lines(t, r.out)
		if r.status != 0 || len(all) < 10 {
			t.Fatalf("%s: status %d, %s", name, r.status, r.err)
		}
		return &all[len(all)-1]
	}
	from, to := last(capture).Summary, last(table).Summary
	if from.Frames != to.Frames || from.Cycles != to.Cycles {
		t.Errorf("%+v, by the table %+v", from, to)
	}
	for i := range from.Cylinders {
		const tol = 0.001 // kPa: four places, and times to the microsecond
		if d := *from.Cylinders[i].Draw - *to.Cylinders[i].Draw; math.Abs(d) > tol {
			t.Errorf("cylinder %d is %g kPa off", i+1, d)
		}
		// The table must be no surer than the capture: neither knows its sensors.
		if u, v := from.Cylinders[i].Uncertainty, to.Cylinders[i].Uncertainty; (u == nil) != (v == nil) ||
			u != nil && math.Abs(*u-*v) > tol {
			t.Errorf("cylinder %d is told ±%v kPa, by the table ±%v", i+1, u, v)
		}
	}
	text, _ := os.ReadFile(table)
	_, bare, _ := strings.Cut(string(text), "\n#\n") // as another logger's
	os.WriteFile(table, []byte(bare), 0o644)
	if u := last(table).Summary.Cylinders[1].Uncertainty; u == nil || *u < 0.3 { // 2 % of some 25 kPa, by half
		t.Errorf("a table that does not know its sensors tells ±%v kPa", u)
	}
	if r := evendraw(t, dir, "analyse", table); !strings.Contains(r.out, "no zero pass") ||
		!strings.Contains(r.err, "--zeroed") {
		t.Errorf("%s%s", r.out, r.err)
	}
	if r := evendraw(t, dir, "analyse", table, "--zeroed"); strings.Contains(r.out+r.err, "zero") {
		t.Errorf("%s%s", r.out, r.err)
	}
	noCardIsTakenUnasked(t, dir, table)
	countsAreTabled(t, dir, capture, table)
}

// noCardIsTakenUnasked reads a table of another logger beside a bike's card, which is the only one.
func noCardIsTakenUnasked(t *testing.T, dir, table string) {
	t.Helper()
	if r := evendraw(t, dir, "bike", "new", "four", "--cylinders", "4"); r.status != 0 {
		t.Fatal(r.err)
	}
	for bike, told := range map[string]bool{"": true, "four": false} {
		args := []string{"analyse", table}
		if bike != "" {
			args = append(args, "--bike", bike)
		}
		if r := evendraw(t, dir, args...); strings.Contains(r.err, "without a bike's card") != told {
			t.Errorf("bike %q: %s", bike, r.err)
		}
	}
}

// countsAreTabled writes a capture's counts in the place of a table, and reads them by the head above them.
func countsAreTabled(t *testing.T, dir, capture, table string) {
	t.Helper()
	before, _ := os.ReadFile(table)
	if r := evendraw(t, dir, "export", capture, "--out", table); r.status != exitFailed ||
		!strings.Contains(r.err, "--overwrite") {
		t.Errorf("status %d, %s", r.status, r.err)
	}
	if after, _ := os.ReadFile(table); string(after) != string(before) {
		t.Error("the table was overwritten")
	}
	r := evendraw(t, dir, "export", capture, "--out", table, "--overwrite")
	if after, _ := os.ReadFile(table); r.status != 0 || !strings.Contains(string(after), "\n#\nt_us,c0,c1,c2,c3\n0,") {
		t.Errorf("status %d, %.40s", r.status, after)
	}
	if r = evendraw(t, dir, "analyse", table); r.status != 0 || strings.Contains(r.err, "of which kind") {
		t.Errorf("counts are not read by the head above them: status %d, %s", r.status, r.err)
	}
}

// The last bytes of a compressed capture, which come with its end, are in the table too.
func TestATableHoldsEveryFrame(t *testing.T) {
	t.Parallel()
	capture, table := filepath.Join("..", "..", "testdata", "captures", "twin.cap.gz"), t.TempDir()+"/t.csv"
	if r := evendraw(t, t.TempDir(), "export", capture, "--out", table); r.status != 0 {
		t.Fatal(r.err)
	}
	text, err := os.ReadFile(table)
	read := evendraw(t, t.TempDir(), "analyse", capture, "--json")
	all := lines(t, read.out)
	want := all[len(all)-1].Summary.Frames
	ends := strings.Count(string(text), "\n")
	rows := ends - strings.Count(string(text), "\n#") - 2 // the first line, and the columns' names
	if err != nil || uint64(rows) != uint64(want) || want == 0 {
		t.Errorf("%d rows of %d frames, %v", rows, want, err)
	}
}
