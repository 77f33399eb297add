package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// binary is the program, built once for all tests.
var binary string

func TestMain(m *testing.M) {
	flag.Parse()
	flag.Set("test.parallel", "6") // most of them wait
	if flag.Lookup("test.fuzz").Value.String() != "" {
		os.Exit(m.Run()) // what is fuzzed needs no program
	}
	dir, err := os.MkdirTemp("", "evendraw-test")
	if err != nil {
		panic(err)
	}
	binary = filepath.Join(dir, "evendraw")
	if out, err := exec.Command("go", append(buildArgs(), "-o", binary, ".")...).CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "%s\n", out)
		os.Exit(1)
	}
	status := m.Run()
	os.RemoveAll(dir)
	os.Exit(status)
}

// need skips the test when a tool is missing, and fails instead when all tests
// are asked for.
func need(t *testing.T, tool, debianPackage string) {
	t.Helper()
	if _, err := exec.LookPath(tool); err == nil {
		return
	}
	text := fmt.Sprintf("%s is not installed (Debian package %s)", tool, debianPackage)
	if os.Getenv("EVENDRAW_TEST_ALL") == "1" {
		t.Fatal(text)
	}
	t.Skip(text)
}

// result is how a run of the program ended.
type result struct {
	out, err string
	status   int
}

// evendraw runs the program in a garage of its own.
func evendraw(t *testing.T, garage string, args ...string) result {
	t.Helper()
	ctx, stop := context.WithTimeout(context.Background(), runLimit)
	defer stop()
	cmd := exec.CommandContext(ctx, binary, args...)
	cmd.Env = append(os.Environ(), "EVENDRAW_GARAGE="+garage)
	var out, errOut bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errOut
	err := cmd.Run()
	if ctx.Err() != nil {
		t.Fatalf("evendraw %v did not end", args)
	}
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	return result{out.String(), errOut.String(), cmd.ProcessState.ExitCode()}
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
			Draw   *float64           `json:"draw_kpa"`
			States map[string]float64 `json:"states"`
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
	live := evendraw(t, dir, "live", "--practice", "--headless", "--json", "--every-cycle", "--for", "8s", "--capture", capture)
	if live.status != 0 {
		t.Fatalf("live: status %d, %s", live.status, live.err)
	}
	got := lines(t, live.out)
	if len(got) < 40 {
		t.Fatalf("%d lines", len(got))
	}
	last := got[len(got)-1]
	if last.RPM == nil || last.Link.Frames < 6500 || len(last.Cylinders) != 4 || last.Advice.Kind == "" || last.Cycle == nil || len(last.Cycle.Mean) != 4 {
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
	r := evendraw(t, dir, "live", "--practice")
	if r.status != 0 || !strings.Contains(r.out, "LEVEL") || !strings.Contains(r.err, "saved ") {
		t.Fatalf("status %d\n%s%s", r.status, r.out, r.err)
	}
	records, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "syncs", "*.sync"))
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
	if r := evendraw(t, dir, "record", "--practice", capture, "--for", "6s"); r.status != 0 {
		t.Fatalf("record: status %d, %s", r.status, r.err)
	}
	if r := evendraw(t, dir, "record", "--practice", capture, "--for", "1s"); r.status != 1 || !strings.Contains(r.err, "there already") {
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
	if s == nil || s.Frames < 6000 || s.Lost != 0 || s.Damaged != 0 || s.Cycles < 40 || s.Cylinders[0].States["ok"] < 0.7 {
		t.Errorf("summary %+v", s)
	}
}

func TestExitStatuses(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	table := "t_us,kpa0,kpa1\n"
	for i := range 6000 {
		table += fmt.Sprintf("%d,%.3f,%.3f\n", i*1000, 100+0.01*math.Sin(float64(i)), 99.5+0.01*math.Cos(float64(i)))
	}
	off := file("off.csv", table)
	for _, c := range []struct {
		name   string
		args   []string
		status int
		words  string
	}{
		{"help", []string{"--help"}, 0, ""},
		{"unknown flag", []string{"live", "--bogus"}, 2, "bogus"},
		{"unknown verb", []string{"bogus"}, 2, "bogus"},
		{"misspelt verb", []string{"liv"}, 2, "is live meant"},
		{"no board named", []string{"board", "show"}, 2, "the use is evendraw board show SERIAL"},
		{"too many arguments", []string{"analyse", "a", "b"}, 2, "the use is evendraw analyse FILE"},
		{"auto without practice", []string{"live", "--auto"}, 2, "--practice"},
		{"impossible ambient", []string{"paths", "--ambient", "760"}, 2, "kPa absolute"},
		{"no board", []string{"board", "check"}, 3, "no board"},
		{"absent port", []string{"live", "--headless", "--port", filepath.Join(dir, "none")}, 3, "no such port"},
		{"not a port", []string{"live", "--headless", "--port", off}, 1, "serial port"},
		{"no such file", []string{"analyse", filepath.Join(dir, "none")}, 6, "none"},
		{"a folder", []string{"analyse", dir}, 6, "folder"},
		{"no speed", []string{"analyse", off, "--min-rpm", "NaN"}, 2, "--min-rpm"},
		{"speeds crossed", []string{"analyse", off, "--min-rpm", "9000", "--max-rpm", "300"}, 2, "not below"},
		{"endless limit", []string{"bike", "new", "x", "--limit", "inf"}, 2, "--limit"},
		{"head with nine offsets", []string{"zero", "--from", file("nine.cap", "# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: zero\n# offsets_kpa: [1,1,1,1,1,1,1,1,1]\n#\n\x00")}, 6, "offsets_kpa"},
		{"head with reference 9", []string{"analyse", file("nine2.cap", "# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: middle\n#\n\x00")}, 6, "ambient_from"},
		{"head with a gain of 9", []string{"analyse", file("gain.cap", "# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: zero\n# gains: [1,9]\n#\n\x00")}, 6, "gains"},
		{"not a capture", []string{"analyse", file("x", "hello")}, 6, "neither"},
		{"empty", []string{"analyse", file("empty", "")}, 6, "empty"},
		{"bad row", []string{"analyse", file("bad.csv", "t_us,v0\n1,2\n2,x\n")}, 6, "line 3"},
		{"no frames", []string{"analyse", file("zeros", "\x00\x00\x00")}, 6, "no frame"},
		{"unknown bike", []string{"live", "--bike", "nobody's", "--headless"}, 2, "bike list"},
		{"for nothing", []string{"record", "--practice", filepath.Join(dir, "n.cap"), "--for", "0s"}, 2, "--for"},
		{"unknown board", []string{"board", "show", "nobody"}, 1, "evendraw zero"},
		{"zero of a file", []string{"zero", "--from", off, "--json"}, 0, ""},
		{"zero of too little", []string{"zero", "--from", file("short.csv", table[:20000])}, 1, "too little"},
	} {
		r := evendraw(t, filepath.Join(dir, "garage"), c.args...)
		if r.status != c.status || !strings.Contains(r.err, c.words) {
			t.Errorf("%s: status %d, want %d; standard error %q, want %q in it", c.name, r.status, c.status, r.err, c.words)
		}
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

func TestBikeCards(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := evendraw(t, dir, "bike", "new", "Old twin", "--cylinders", "2", "--firing-angles", "0,270", "--unit", "mmHg")
	if r.status != 0 || !strings.Contains(r.out, "bike.toml") {
		t.Fatalf("%+v", r)
	}
	for _, c := range []struct {
		args   []string
		status int
		words  string
	}{
		{[]string{"bike", "new", "Old twin"}, 1, "already"},
		{[]string{"bike", "new", "x", "--cylinders", "5"}, 2, "--cylinders"},
		{[]string{"bike", "new", "x", "--screw", "1-2:1", "--screw", "3-4:1", "--screw", "2-3:1,2"}, 2, "singular"},
		{[]string{"bike", "new", "x", "--screw", "1-2:7", "--screw", "3-4:4", "--screw", "2-3:1,2"}, 2, "no cylinder 7"},
		{[]string{"bike", "new", "x", "--firing-order", "1-2-2-3"}, 2, "firing_order"},
		{[]string{"bike", "new", "x", "--unit", "furlong"}, 2, "furlong"},
	} {
		r := evendraw(t, dir, c.args...)
		if r.status != c.status || !strings.Contains(r.err, c.words) {
			t.Errorf("%v: status %d, want %d; %q, want %q in it", c.args, r.status, c.status, r.err, c.words)
		}
	}
	if r := evendraw(t, dir, "bike", "list"); !strings.Contains(r.out, "* Old twin") {
		t.Errorf("list: %+v", r)
	}
	if r := evendraw(t, dir, "bike", "show"); !strings.Contains(r.out, "screw 1-2") {
		t.Errorf("show: %+v", r)
	}
	// A card that has gone bad is named with field and line, and stops no other.
	card := filepath.Join(dir, "bikes", "Old twin", "bike.toml")
	text, err := os.ReadFile(card)
	if err != nil {
		t.Fatal(err)
	}
	os.WriteFile(card, []byte(strings.Replace(string(text), "moves = [2]", "moves = []", 1)), 0o644)
	if r := evendraw(t, dir, "bike", "show", "Old twin"); r.status != 6 || !strings.Contains(r.err, "line") || !strings.Contains(r.err, "moves") {
		t.Errorf("bad card: %+v", r)
	}
}

func TestTrialReport(t *testing.T) {
	t.Parallel()
	args := []string{"trial", "--bikes", "2", "--seed", "5", "--linkage", "twin", "--json"}
	dir := t.TempDir()
	plot := filepath.Join(dir, "spread.svg")
	first := evendraw(t, dir, append(args, "--plot", plot)...)
	if again := evendraw(t, dir, args...); again.out != first.out || first.status != 0 {
		t.Fatalf("same seed, other report: %s%s%s", first.err, first.out, again.out)
	}
	var report map[string]any
	if err := json.Unmarshal([]byte(first.out), &report); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"bikes", "levelled_share", "levelled_fine_share", "false_done", "turns_median", "idle_s_median", "rival", "by_linkage"} {
		if _, ok := report[key]; !ok {
			t.Errorf("no %s in %s", key, first.out)
		}
	}
	if svg, err := os.ReadFile(plot); err != nil || !strings.Contains(string(svg), "<svg") {
		t.Errorf("plot: %v", err)
	}
	if r := evendraw(t, dir, "trial", "--linkage", "nine"); r.status != 2 || !strings.Contains(r.err, "paired four") {
		t.Errorf("unknown linkage: %+v", r)
	}
}

// A capture whose disk is full is no success, nor is an analysis that can't be
// printed.
func TestAFullDiskIsTold(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	script := fmt.Sprintf("ulimit -f 20; %q record --practice %q --for 3s --garage %q", binary, filepath.Join(dir, "c.cap"), dir)
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
	if out, err := exec.Command("bash", "-c", fmt.Sprintf("%q analyse %q --json > /dev/full", binary, path)).CombinedOutput(); err == nil {
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
	live := evendraw(t, dir, "live", "--practice", "--bike", "Zweizylinder", "--headless", "--json", "--every-cycle", "--for", "9s", "--capture", capture)
	again := evendraw(t, dir, "analyse", capture, "--json")
	if live.status != 0 || !strings.Contains(live.out, "mitte-ä") || !strings.HasPrefix(again.out, live.out) {
		t.Errorf("live %s\nanalyse %s", live.err, again.err)
	}
}
