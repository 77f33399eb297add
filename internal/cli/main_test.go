package cli

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"evendraw/internal/effort"
)

// version is that of the program in tests.
const version = "0.1.0"

// binary is the program: the test binary itself under its name, or one that is built once for all tests.
var binary string

func TestMain(m *testing.M) {
	testscript.Main(&withProgram{m}, map[string]func(){"evendraw": func() { Main(version) }})
}

// withProgram finds or builds the program before the tests.
type withProgram struct{ tests *testing.M }

func (w *withProgram) Run() int {
	flag.Parse()
	flag.Set("test.parallel", "6") // most of them wait
	if flag.Lookup("test.fuzz").Value.String() != "" {
		return w.tests.Run() // what is fuzzed needs no program
	}
	defer func() {
		for _, end := range ends {
			end()
		}
	}()
	if binary = os.Getenv("EVENDRAW_TEST_PROGRAM"); binary != "" { // where there is no Go
		return w.tests.Run()
	}
	if !effort.Whole() && len(buildArgs()) == 1 {
		binary, _ = exec.LookPath("evendraw") // the tests themselves, under that name
		return w.tests.Run()
	}
	dir, err := os.MkdirTemp("", "evendraw-test")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	binary = filepath.Join(dir, "evendraw")
	if out, err := exec.Command("go",
		append(buildArgs(), "-o", binary, "evendraw/cmd/evendraw")...).CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "%s\n", out)
		return 1
	}
	return w.tests.Run()
}

// ends is what is to be done after the tests.
var ends []func()

// result is how a run of the program ended.
type result struct {
	out, err string
	status   int
}

// line is what tests look at in a line of JSON.
type line struct {
	Time      *float64 `json:"time_s"`
	RPM       *float64 `json:"rpm"`
	Spread    *float64 `json:"spread_kpa"`
	Reference int      `json:"reference"`
	Cylinders []struct {
		Cylinder    int      `json:"cylinder"`
		Channel     int      `json:"channel"`
		Draw        *float64 `json:"draw_kpa"`
		Difference  *float64 `json:"difference_kpa"`
		Uncertainty *float64 `json:"uncertainty_kpa"`
		State       string   `json:"state"`
	} `json:"cylinders"`
	Advice struct {
		Kind, Why        string
		Screw, Direction *string
		Turns            *float64
	} `json:"advice"`
	Link  struct{ Frames, Lost, Damaged, Overflows, Restarts int } `json:"link"`
	Cycle *struct {
		Start  float64   `json:"start_s"`
		Period float64   `json:"period_s"`
		Mean   []float64 `json:"mean_absolute_kpa"`
	} `json:"cycle"`
	Summary *struct {
		Frames, Lost, Damaged, Overflows, Cycles int

		RPM       map[string]*float64 `json:"rpm"`
		Cylinders []struct {
			Draw        *float64           `json:"draw_kpa"`
			Uncertainty *float64           `json:"uncertainty_kpa"`
			States      map[string]float64 `json:"states"`
		} `json:"cylinders"`
		Hoses struct{ Verdict string } `json:"hoses"`
	} `json:"summary"`
}

func lines(t *testing.T, text string) (all []line) {
	t.Helper()
	for s := range strings.Lines(text) {
		var l line
		if err := json.Unmarshal([]byte(s), &l); err != nil {
			t.Fatalf("%v in line %q", err, s)
		}
		all = append(all, l)
	}
	return all
}

func TestPracticeHeadlessAndAnalysisAgree(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	capture := filepath.Join(dir, "practice.cap")
	live := virtually(t, dir, "live", "--practice", "--headless", "--json", "--every-cycle", "--for", "6s", "--capture",
		capture)
	if live.status != 0 {
		t.Fatalf("live: status %d, %s", live.status, live.err)
	}
	got := lines(t, live.out)
	if len(got) < 40 {
		t.Fatalf("%d lines", len(got))
	}
	last := got[len(got)-1]
	if last.RPM == nil || last.Link.Frames < 5500 || len(last.Cylinders) != 4 || last.Advice.Kind == "" ||
		last.Cycle == nil || len(last.Cycle.Mean) != 4 {
		t.Errorf("last line: %s", live.out[strings.LastIndex(strings.TrimSpace(live.out), "\n")+1:])
	}
	again := evendraw(t, dir, "analyse", capture, "--json")
	if again.status != 0 {
		t.Fatalf("analyse: status %d, %s", again.status, again.err)
	}
	all := strings.SplitAfter(again.out, "\n")
	n := len(all) // the last is empty
	if !strings.HasPrefix(all[n-2], `{"summary":`) {
		t.Errorf("last line is no summary: %s", all[n-2])
	}
	if strings.Join(all[:n-2], "") != live.out {
		t.Errorf("live printed %d lines, the analysis %d, and not the same", len(got), n-2)
	}
}

// Without a terminal the virtual mechanic levels the bank, and a record is kept.
func TestPracticeLevelsItselfWithoutATerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := virtually(t, dir, "live", "--practice")
	if r.status != 0 || !strings.Contains(r.out, "LEVEL") || !strings.Contains(r.err, "saved ") {
		t.Fatalf("status %d\n%s%s", r.status, r.out, r.err)
	}
	records, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "syncs", "*.level"))
	if len(records) != 1 {
		t.Fatalf("%d records", len(records))
	}
	text, err := os.ReadFile(records[0])
	if err != nil || !strings.Contains(string(text), `"verdict": "done"`) {
		t.Errorf("%v %s", err, text)
	}
}

// A recording of the running engine is analysed as live showed it, to the byte.
func TestRecordingIsReadAsLive(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	capture := filepath.Join(dir, "running.cap")
	if r := virtually(t, dir, "record", "--practice", capture, "--for", "6s"); r.status != 0 {
		t.Fatalf("record: status %d, %s", r.status, r.err)
	}
	if r := virtually(t, dir, "record", "--practice", capture, "--for", "1s"); r.status != 1 ||
		!strings.Contains(r.err, "there already") {
		t.Errorf("a capture was overwritten: status %d, %s", r.status, r.err)
	}
	a := evendraw(t, dir, "analyse", capture, "--json")
	pipe := exec.Command(binary, "analyse", "-", "--json", "--garage", dir)
	f, err := os.Open(capture)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	pipe.Stdin = f
	b, err := pipe.Output()
	if err != nil || string(b) != a.out {
		t.Errorf("standard input gives other lines: %v", err)
	}
	all := lines(t, a.out)
	s := all[len(all)-1].Summary
	if s == nil || s.Frames < 6000 || s.Lost != 0 || s.Damaged != 0 || s.Cycles < 40 ||
		s.Cylinders[0].States["ok"] < 0.7 {
		t.Errorf("summary %+v", s)
	}
}

func TestZeroFromATable(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	table := "t_us,v0,v1\n"
	for i := range 5600 {
		// MPX4115A: 5 V × (0.009 P - 0.095) at 98 and 99 kPa.
		table += fmt.Sprintf("%d,%.6f,%.6f\n", i*1000, 5*(0.009*98-0.095), 5*(0.009*99-0.095))
	}
	path := filepath.Join(dir, "t.csv")
	os.WriteFile(path, []byte(table), 0o644)
	r := evendraw(t, dir, "zero", "--from", path, "--json", "--ambient", "98.2")
	var z struct {
		Ambient float64   `json:"ambient_kpa"`
		Offsets []float64 `json:"offsets_kpa"`
	}
	if err := json.Unmarshal([]byte(r.out), &z); err != nil || r.status != 0 {
		t.Fatalf("status %d, %v: %s%s", r.status, err, r.out, r.err)
	}
	if math.Abs(z.Ambient-98.2) > 1e-9 || math.Abs(z.Offsets[0]+0.2) > 1e-4 || math.Abs(z.Offsets[1]-0.8) > 1e-4 {
		t.Errorf("%+v", z)
	}
}

// A capture whose disk is full is no success, nor is an analysis that can't be
// printed.
func TestAFullDiskIsTold(t *testing.T) {
	t.Parallel()
	effort.Need(t, "bash", "bash")
	dir := t.TempDir()
	script := fmt.Sprintf("ulimit -f 20; %q record --practice %q --for 3s --garage %q", binary,
		filepath.Join(dir, "c.cap"), dir)
	cmd := exec.Command("bash", "-c", "trap '' XFSZ; "+script)
	if out, err := cmd.CombinedOutput(); err == nil || !strings.Contains(string(out), "could not be written") {
		t.Errorf("record: %v %s", err, out)
	}
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip("no /dev/full here")
	}
	table := "t_us,kpa0,kpa1\n"
	for i := range 3000 {
		table += fmt.Sprintf("%d,100,99\n", i*1000)
	}
	path := filepath.Join(dir, "t.csv")
	os.WriteFile(path, []byte(table), 0o644)
	if out, err := exec.Command("bash", "-c", fmt.Sprintf("%q analyse %q --json > /dev/full", binary,
		path)).CombinedOutput(); err == nil {
		t.Errorf("analyse to a full disk succeeds: %s", out)
	}
}

// Letters beyond ASCII survive a capture.
func TestScrewNamesSurviveACapture(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if r := evendraw(t, dir, "bike", "new", "Zweizylinder", "--cylinders", "2", "--screw", "mitte-ä:2"); r.status != 0 {
		t.Fatal(r.err)
	}
	capture := filepath.Join(dir, "c.cap")
	live := virtually(t, dir, "live", "--practice", "--bike", "Zweizylinder", "--headless", "--json", "--every-cycle",
		"--for", "9s", "--capture", capture)
	again := evendraw(t, dir, "analyse", capture, "--json")
	if live.status != 0 || !strings.Contains(live.out, "mitte-ä") || !strings.HasPrefix(again.out, live.out) {
		t.Errorf("live %s\nanalyse %s", live.err, again.err)
	}
}
