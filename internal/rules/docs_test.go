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

// Every file that a document names is there, and its lines can be read side by side.
func TestDocuments(t *testing.T) {
	notes, err := filepath.Glob(filepath.Join(root, "internal", "*", "NOTES.md"))
	if err != nil || len(notes) < 10 {
		t.Fatalf("%d notes, %v", len(notes), err)
	}
	for _, file := range append(notes, filepath.Join(root, "README.md"), filepath.Join(root, "DEVELOPERS.md")) {
		name, err := filepath.Rel(root, file)
		if err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(file)
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

// A newcomer finds every package in the picture of the house, which is the first block of code.
func TestThePictureShowsEveryPackage(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, house, _ := strings.Cut(string(text), "\n## The house\n")
	_, picture, ok := strings.Cut(house, "```\n")
	picture, _, end := strings.Cut(picture, "\n```\n")
	if !ok || !end {
		t.Fatal("no picture of the house")
	}
	drawn := map[string]bool{}
	for _, word := range regexp.MustCompile(`[a-z/]+`).FindAllString(picture, -1) {
		drawn[strings.TrimPrefix(word, "internal/")] = true
	}
	packages, err := os.ReadDir(filepath.Join(root, "internal"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range packages {
		if p.IsDir() && !drawn[p.Name()] {
			t.Errorf("internal/%s is not in the picture of the house", p.Name())
		}
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
