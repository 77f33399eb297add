package effort

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// Whole reports whether the tests are to run in full: EVENDRAW_TEST_ALL=1.
func Whole() bool { return os.Getenv("EVENDRAW_TEST_ALL") == "1" }

// Of returns plain, or whole where the tests are to run in full.
func Of[T any](plain, whole T) T {
	if Whole() {
		return whole
	}
	return plain
}

// ForWhole skips a test that is for full runs alone, saying what it would do.
func ForWhole(t testing.TB, what string) {
	t.Helper()
	if !Whole() {
		t.Skip(what + ": EVENDRAW_TEST_ALL=1")
	}
}

// Some skips all but each n-th row of a table in a plain run.
func Some(t testing.TB, row, n int) {
	t.Helper()
	if row%n != 0 {
		ForWhole(t, fmt.Sprintf("one row of %d", n))
	}
}

// Need skips the test when a tool is missing, and fails it in a full run.
func Need(t testing.TB, tool, debianPackage string) {
	t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		Missing(t, fmt.Sprintf("%s is not installed (Debian package %s)", tool, debianPackage))
	}
}

// Missing skips the test for want of something, and fails it in a full run.
func Missing(t testing.TB, what string) {
	t.Helper()
	if Whole() {
		t.Fatal(what)
	}
	t.Skip(what)
}

// Hang is the longest wait of a test for something that must happen. Chosen: no machine is so
// slow; what has not come by then hangs.
const Hang = 2 * time.Minute

// Figure is something measured, and the most it may be.
type Figure struct {
	Name       string
	Got, Limit float64
	Unit       string
}

// Millis is a figure of time in milliseconds.
func Millis(name string, got, limit time.Duration) Figure {
	return Figure{name, float64(got.Microseconds()) / 1000, float64(limit.Microseconds()) / 1000, "ms"}
}

func (f Figure) String() string {
	return fmt.Sprintf("%s %.4g %s (at most %.4g)", f.Name, f.Got, f.Unit, f.Limit)
}

// tries is the most that Quiet measures. Chosen: what fails three times is not chance.
const tries = 3

// Quiet measures figures that hold on a quiet machine, up to three times, until all hold in one
// try. It logs every try, and fails the test if there is no such try. Without
// EVENDRAW_TEST_QUIET=1 the test is skipped.
func Quiet(t *testing.T, measure func(t *testing.T) []Figure) {
	t.Helper()
	if os.Getenv("EVENDRAW_TEST_QUIET") != "1" {
		t.Skip("bounds in real time, for a quiet machine: EVENDRAW_TEST_QUIET=1")
	}
	for try := 1; try <= tries; try++ {
		var said []string
		holds := true
		for _, f := range measure(t) {
			said = append(said, f.String())
			holds = holds && f.Got <= f.Limit
		}
		t.Logf("figure: try %d: %s", try, strings.Join(said, "; "))
		if holds {
			return
		}
	}
	t.Errorf("none of %d tries holds", tries)
}

// Lateness runs do, and returns the most by which this machine meanwhile woke a sleeper too late:
// a bound in real time must allow for that.
func Lateness(do func()) time.Duration {
	const nap = 5 * time.Millisecond
	stop, worst := make(chan struct{}), make(chan time.Duration)
	go func() {
		late := time.Duration(0)
		for {
			begun := time.Now()
			select {
			case <-stop:
				worst <- late
				return
			case <-time.After(nap):
				late = max(late, time.Since(begun)-nap)
			}
		}
	}()
	do()
	close(stop)
	return <-worst
}
