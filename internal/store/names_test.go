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

func TestNameParts(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]struct {
		number int
		chance string
	}{
		"20260301T080000.000Z-12-0a1b.level": {12, "0a1b"},
		"20260301T080000.000Z-0a1b.level":    {0, "0a1b"},
		"by hand.level":                      {0, "by hand"},
		"a--3-b.level":                       {0, "b"},
		"":                                   {0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			if number, chance := NameParts(name); number != want.number || chance != want.chance {
				t.Errorf("got %d, %q", number, chance)
			}
		})
	}
}
