package store

import (
	"strings"
	"testing"
)

func TestPlainNamesAreTheirFolders(t *testing.T) {
	t.Parallel()
	for name, folder := range map[string]string{
		"Invented Four": "Invented Four",
		"x-1_y":         "x-1_y",
		"CON":           "CON+",
		"../x":          "x+",
		"ünïcode":       "ünïcode+",
		"🏍":             "+",
	} {
		t.Run(name, func(t *testing.T) {
			got := FolderName(name)
			i := strings.IndexByte(folder, '+')
			if got != folder && (i < 0 || !strings.HasPrefix(got, folder) || len(got) != len(folder)+8) {
				t.Errorf("got folder %q", got)
			}
		})
	}
}

func TestBaseName(t *testing.T) {
	t.Parallel()
	for path, want := range map[string]string{"": "", "a": "a", "x/a": "a", "../a": "a", "x/..": "", ".": "", "/": ""} {
		t.Run(path, func(t *testing.T) {
			if got := BaseName(path); got != want {
				t.Errorf("got %q, want %q", got, want)
			}
		})
	}
}
