package store

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/effort"
)

// A test starts this program again with the variable set to add lines to the file "shared" in that
// folder.
const childVariable = "EVENDRAW_TEST_APPEND"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childVariable); dir != "" {
		appendLines(filepath.Join(dir, "shared"))
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// appendsByEach is how many lines each of two programs adds to one file.
var appendsByEach = effort.Of(50, 500)

// appendLines adds lines to one file, and tells which were refused.
func appendLines(path string) {
	for n := range appendsByEach {
		line := fmt.Sprintf("%d %d", os.Getpid(), n)
		err := New().Edit(path, func(old []byte) ([]byte, error) { return append(old, line+"\n"...), nil })
		if err != nil {
			fmt.Println(line)
		}
	}
}

func appender(t *testing.T, dir string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	must(t, err)
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childVariable+"="+dir)
	return cmd
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func readText(t testing.TB, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	must(t, err)
	return string(text)
}

// Row 21: two programs save to one file at the same time; nothing is lost
// silently.
func TestTwoPrograms(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	var programs [2]*exec.Cmd
	var refused [2]strings.Builder
	for i := range programs {
		programs[i] = appender(t, dir)
		programs[i].Stdout = &refused[i]
		must(t, programs[i].Start())
	}
	said := 0
	for i, p := range programs {
		must(t, p.Wait())
		said += strings.Count(refused[i].String(), "\n")
	}
	lines := strings.Split(strings.TrimSpace(readText(t, filepath.Join(dir, "shared"))), "\n")
	seen := map[string]bool{}
	for _, line := range lines {
		if seen[line] {
			t.Errorf("%s is there twice", line)
		}
		seen[line] = true
	}
	if len(lines)+said != 2*appendsByEach {
		t.Errorf("%d saved, %d refused of %d", len(lines), said, 2*appendsByEach)
	}
	t.Logf("count: %d saves by two programs at a time, %d refused aloud, 0 lost", len(lines), said)
}

// An edit whose lock is taken away, or whose card is changed by an editor,
// starts again on what is there; one that is always disturbed is refused.
func TestDisturbedEdit(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "shared")
	lock := besidePath(path, "", lockEnding)
	for name, c := range map[string]struct {
		disturb func()
		want    string
	}{
		"editor": {func() { must(t, os.WriteFile(path, []byte("edited\n"), 0o666)) }, "edited\nmine\n"},
		"thief":  {func() { must(t, os.Remove(lock)) }, "old\nmine\n"},
	} {
		t.Run(name, func(t *testing.T) {
			must(t, os.WriteFile(path, []byte("old\n"), 0o666))
			tries := 0
			must(t, New().Edit(path, func(old []byte) ([]byte, error) {
				if tries++; tries == 1 {
					c.disturb()
				}
				return append(old, "mine\n"...), nil
			}))
			if got := readText(t, path); got != c.want || tries != 2 {
				t.Errorf("got %q after %d tries", got, tries)
			}
		})
	}
	n := 0
	err := New().Edit(path, func(old []byte) ([]byte, error) {
		n++
		must(t, os.WriteFile(path, fmt.Append(nil, n), 0o666))
		return []byte("mine"), nil
	})
	if !errors.Is(err, errChanged) || readText(t, path) != fmt.Sprint(n) {
		t.Errorf("always disturbed: got %v", err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("left %v", entries)
	}
}
