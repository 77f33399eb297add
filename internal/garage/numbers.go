package garage

import (
	"cmp"
	"path/filepath"
	"slices"
	"time"

	"evendraw/internal/store"
)

// numbered returns the names of the files of a kind that are or were in a folder, damaged ones and those that
// were set aside too, in their order: the first has the number 1. A new file comes last, see lastOf, so that a
// number that stands on paper stays that file's.
func numbered(dir string, endings []string) (names []string) {
	for _, folder := range []string{dir, filepath.Join(dir, store.AsideFolder)} {
		paths, _ := store.Paths(folder, endings...) // who lists the files tells of an error
		for _, path := range paths {
			names = append(names, filepath.Base(path))
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// numberOf returns the number of a file among all those names.
func numberOf(path string, names []string) int {
	at, _ := slices.BinarySearch(names, filepath.Base(path))
	return at + 1
}

// RecordNumber returns the number of a levelling record among those of its folder.
func RecordNumber(path string) int {
	return numberOf(path, numbered(filepath.Dir(path), recordEndings))
}

// lastOf returns the time for the name of a new file in a folder: at, but later than all names there, which a
// clock that was put back and a run that is kept late would not be.
func lastOf(dir string, endings []string, at time.Time) time.Time {
	names := numbered(dir, endings)
	if len(names) == 0 {
		return at
	}
	name := names[len(names)-1]
	newest, err := time.Parse(store.TimeLayout, name[:min(len(store.TimeLayout), len(name))])
	if err == nil && at.Before(newest.Add(time.Millisecond)) { // a name's last digit
		return newest.Add(time.Millisecond)
	}
	return at
}

// byTime puts records or bench cards in the order of their own times; a correction comes after what it corrects.
func byTime[T any](list []T, of func(*T) (at time.Time, number int)) {
	slices.SortFunc(list, func(a, b T) int {
		at, n := of(&a)
		bt, m := of(&b)
		return cmp.Or(at.Compare(bt), cmp.Compare(n, m))
	})
}
