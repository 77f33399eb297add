package rules

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// maxDocColumns is how wide a line of README.md and DEVELOPERS.md is at most.
const maxDocColumns = 100

// path is a file as DEVELOPERS.md names it, from internal or from the root.
var path = regexp.MustCompile("`([a-z/-]+/[a-zA-Z_.-]+\\.(?:go|md|sh))`")

// Every file that DEVELOPERS.md names is there, and its lines can be read side by side.
func TestDocuments(t *testing.T) {
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		text, err := os.ReadFile(filepath.Join(root, name))
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(text), "\n") {
			if n := utf8.RuneCountInString(line); n > maxDocColumns {
				t.Errorf("%s:%d has %d columns, at most %d", name, i+1, n, maxDocColumns)
			}
		}
		found := 0
		for _, m := range path.FindAllStringSubmatch(string(text), -1) {
			found++
			if !exists(filepath.Join(root, m[1])) && !exists(filepath.Join(root, "internal", m[1])) {
				t.Errorf("%s names %s, which is not there", name, m[1])
			}
		}
		if name == "DEVELOPERS.md" && found < 15 {
			t.Errorf("only %d files are named", found)
		}
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
