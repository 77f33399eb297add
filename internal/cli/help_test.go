package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"evendraw/internal/manual"
)

// The manual has a page for each verb, the same each time.
func TestManual(t *testing.T) {
	t.Parallel()
	read := func() map[string]string {
		dir := t.TempDir()
		if err := manual.Write(NewRoot("1.0.0"), dir, time.Unix(0, 0)); err != nil {
			t.Fatal(err)
		}
		pages := map[string]string{}
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			text, _ := os.ReadFile(filepath.Join(dir, e.Name()))
			pages[e.Name()] = string(text)
		}
		return pages
	}
	pages, again := read(), read()
	for _, c := range NewRoot("1.0.0").Commands() {
		if name := "evendraw-" + c.Name() + ".1"; !c.Hidden && c.Runnable() &&
			!strings.Contains(pages[name], c.Short[:10]) {
			t.Errorf("%s: %q", name, pages[name])
		}
	}
	for name, text := range pages {
		if again[name] != text {
			t.Errorf("%s differs from time to time", name)
		}
	}
}

// A double click on Windows is welcome.
func TestADoubleClickIsWelcome(t *testing.T) {
	t.Parallel()
	evendraw(t, t.TempDir(), "paths")
	if cobra.MousetrapHelpText != "" {
		t.Error("a double click is refused")
	}
}

// Where there is JSON, its help says the keys, or where they stand.
func TestHelpSaysTheKeysOfJSON(t *testing.T) {
	t.Parallel()
	var look func(c *cobra.Command)
	look = func(c *cobra.Command) {
		if f := c.Flags().Lookup("json"); f != nil && !strings.Contains(f.Usage, ":") &&
			!strings.Contains(f.Usage, "evendraw schema") && !strings.Contains(c.Long, "With --json each line has") {
			t.Errorf("%s --json: %q", c.CommandPath(), f.Usage)
		}
		for _, sub := range c.Commands() {
			look(sub)
		}
	}
	look(NewRoot("1.0.0"))
}

// No line of any help is broken by a terminal of 80 columns, but a command to be copied.
func TestHelpIsNarrow(t *testing.T) {
	t.Parallel()
	var look func(c *cobra.Command)
	look = func(c *cobra.Command) {
		var out strings.Builder
		c.SetOut(&out)
		writeHelp(c, nil)
		if strings.Contains(out.String(), "default 0s") {
			t.Errorf("%s: a limit that is none is shown", c.CommandPath())
		}
		for line := range strings.SplitSeq(out.String(), "\n") {
			if n := utf8.RuneCountInString(line); n > 79 && !strings.HasPrefix(line, "  evendraw ") &&
				!strings.Contains(line, "sqlite3 all.db '") {
				t.Errorf("%s: %d columns: %s", c.CommandPath(), n, line)
			}
		}
		for _, sub := range c.Commands() {
			look(sub)
		}
	}
	look(NewRoot("1.0.0"))
	// What stands in columns goes on below itself, paragraphs stay apart, and nothing is lost.
	words := func(n int) string { return strings.TrimSpace(strings.Repeat("word ", n)) }
	want := "  name   " + words(14) + "\n         " + words(6) + "\n\nA b.\n"
	if got := wrapped("  name   " + words(20) + "\n\nA\nb.\n"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
