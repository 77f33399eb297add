package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// Every verb that does something shows how: examples first where it has any.
func TestHelpLeadsWithExamples(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"--help"}, {"live", "--help"}, {"replay", "--help"}, {"bike", "new", "--help"}} {
		got := evendraw(t, t.TempDir(), args...)
		examples, usage := strings.Index(got.out, "Examples:"), strings.Index(got.out, "Usage:")
		if got.status != 0 || examples < 0 || usage < examples {
			t.Errorf("%v: status %d, examples at %d, usage at %d:\n%s", args, got.status, examples, usage, got.out)
		}
	}
}

// Completion offers what there is: bikes, practice bikes, steps.
func TestCompletion(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if got := evendraw(t, dir, "bike", "new", "old four"); got.status != 0 {
		t.Fatal(got.err)
	}
	for want, args := range map[string][]string{
		"old four":   {"live", "--bike", ""},
		"lumpy-twin": {"live", "--practice", ""},
		"vee-four":   {"live", "--practice="},
		"raised":     {"live", "--at", ""},
		":8":         {"replay", ""}, // files by ending
	} {
		got := evendraw(t, dir, append([]string{"__complete"}, args...)...)
		if !strings.Contains(got.out, want) {
			t.Errorf("%v: %q is not in\n%s%s", args, want, got.out, got.err)
		}
	}
	if got := evendraw(t, dir, "__complete", "bike", "show", ""); !strings.Contains(got.out, "old four") {
		t.Errorf("bike show: %s", got.out)
	}
}

// The manual has a page for each verb, the same each time.
func TestManual(t *testing.T) {
	t.Parallel()
	read := func() map[string]string {
		dir := filepath.Join(t.TempDir(), "man1")
		if got := evendraw(t, t.TempDir(), "manual", dir); got.status != 0 {
			t.Fatal(got.err)
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
	for _, c := range newRootCommand().Commands() {
		if name := "evendraw-" + c.Name() + ".1"; !c.Hidden && c.Runnable() && !strings.Contains(pages[name], c.Short[:10]) {
			t.Errorf("%s: %q", name, pages[name])
		}
	}
	for name, text := range pages {
		if again[name] != text {
			t.Errorf("%s differs from time to time", name)
		}
	}
}

// A double click on Windows is welcome, and without a terminal the bare program shows
// its help.
func TestBareProgram(t *testing.T) {
	got := evendraw(t, t.TempDir())
	if got.status != 0 || !strings.Contains(got.out, "Examples:") {
		t.Errorf("status %d\n%s%s", got.status, got.out, got.err)
	}
	run(t.Context(), []string{"paths"}, strings.NewReader(""), &strings.Builder{}, &strings.Builder{})
	if cobra.MousetrapHelpText != "" {
		t.Error("a double click is refused")
	}
}
