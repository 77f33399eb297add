package garage

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// The secret of the page's address stays until another is asked for, and only its owner reads it, also where an earlier
// version left it to all.
func TestPageToken(t *testing.T) {
	t.Parallel()
	g, err := Open(filepath.Join(t.TempDir(), "new", "garage"))
	if err != nil {
		t.Fatal(err)
	}
	good := func(s string) bool { return len(s) == 2 }
	path := filepath.Join(g.Paths().Dir, pageFile)
	owner := func(when string) {
		t.Helper()
		info, err := os.Stat(path)
		if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Fatalf("%s: %v, %v", when, info, err)
		}
	}
	for _, row := range []struct {
		when, fresh, want string
		anew              bool
	}{{"first", "AA", "AA", false}, {"again", "BB", "AA", false}, {"anew", "CC", "CC", true},
		{"after that", "DD", "CC", false}} {
		if got, err := g.PageToken(good, row.fresh, row.anew); got != row.want || err != nil {
			t.Errorf("%s: %q, want %q; %v", row.when, got, row.want, err)
		}
		owner(row.when)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if got, err := g.PageToken(good, "EE", false); got != "CC" || err != nil {
		t.Errorf("of an earlier version: %q, %v", got, err)
	}
	owner("of an earlier version")
	if err := os.WriteFile(path, []byte("spoilt\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	os.Chmod(path, 0o644)
	if got, err := g.PageToken(good, "FF", false); got != "FF" || err != nil {
		t.Errorf("in place of a spoilt one: %q, %v", got, err)
	}
	owner("in place of a spoilt one")
	// What could not be kept is told.
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(path, "in the way"), 0o755); err != nil {
		t.Fatal(err)
	}
	if got, err := g.PageToken(good, "GG", true); got != "GG" || err == nil {
		t.Errorf("not kept: %q, %v", got, err)
	}
}
