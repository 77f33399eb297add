package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"evendraw/internal/effort"
)

// The command line as scripts, testdata/script/*.txt: each begins in an empty folder with an
// empty garage. `run STATUS ARGUMENTS…` runs the program, which must end with that status;
// `stdout` and `stderr` then look at what it said. `table` makes a table of the air, at rest.
func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("EVENDRAW_GARAGE", e.WorkDir+"/garage")
			e.Setenv("LC_ALL", "C.UTF-8")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"run": scriptRun, "table": scriptTable},
	})
}

// scriptRun runs the program and checks its exit status. It runs in this process where that can be: not where the
// environment matters, and not in the whole tests.
func scriptRun(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: run STATUS ARGUMENTS…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got, args := 0, args[1:]
	garage := ts.Getenv("EVENDRAW_GARAGE")
	if effort.Whole() || garage == "" || ts.Getenv("EDITOR") != "" || slices.Contains(args, "__complete") {
		got = scriptProcess(ts, args)
	} else {
		for i, arg := range args {
			if _, err := os.Stat(ts.MkAbs(arg)); err == nil && arg != "" {
				args[i] = ts.MkAbs(arg) // this process is not in the script's folder
			}
		}
		w := world{}.seeded()
		got = runIn(context.Background(), w, inGarage(garage, args), strings.NewReader(""), ts.Stdout(), ts.Stderr())
	}
	if got != want {
		ts.Fatalf("status %d, want %d", got, want)
	}
}

// scriptProcess runs the program as a process, and returns its exit status.
func scriptProcess(ts *testscript.TestScript, args []string) int {
	err := ts.Exec("evendraw", args...)
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		return ended.ExitCode()
	}
	ts.Check(err)
	return 0
}

// scriptTable writes a table of the air before two sensors, with a little noise: table FILE SECONDS.
func scriptTable(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: table FILE SECONDS")
	}
	seconds, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	var b strings.Builder
	b.WriteString("t_us,kpa0,kpa1\n")
	for i := range int(seconds * 1000) {
		fmt.Fprintf(&b, "%d,%.3f,%.3f\n", i*1000, 100+0.01*math.Sin(float64(i)), 99.5+0.01*math.Cos(float64(i)))
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(b.String()), 0o644))
}
