package garage

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"evendraw/internal/store"
)

// Number is what a record, a bench card or an unfinished record goes by in lists and on paper. It is kept in the
// file's name, and so stays the file's when folders are merged; then two laptops' files may have the same one.
type Number struct {
	N int // from 1; 0 of a file that stands in no folder of ours
	// Tag is the chance part of the file's name, which no other file of that number has.
	Tag string
	// Shared is set where another file beside it has the same N.
	Shared bool
	// Placed is set where the file's name holds no number, as in earlier versions: N is its place among such, which
	// moves when folders are merged, and the tag alone is the file's for good.
	Placed bool
}

// String is the number as it is to be typed: with the tag where the number alone would be ambiguous.
func (n Number) String() string {
	if n.Shared || n.Placed {
		return n.full()
	}
	return strconv.Itoa(n.N)
}

func (n Number) full() string { return strconv.Itoa(n.N) + "-" + n.Tag }

// Find returns the place in a list of the one that text, as somebody types it, names, and no other; -1 for none. The
// list must hold all of a kind that are in a folder, damaged ones too.
func Find(list []Number, text string) int {
	at := slices.IndexFunc(list, func(n Number) bool { return text == n.full() || text == n.String() })
	digits, tag, _ := strings.Cut(text, "-")
	if _, err := strconv.ParseUint(digits, 10, 32); at >= 0 || err != nil || tag == "" {
		return at
	}
	tagged := func(n Number) bool { return n.Tag == tag }
	at = slices.IndexFunc(list, tagged)
	if at < 0 || !list[at].Placed || slices.ContainsFunc(list[at+1:], tagged) {
		return -1
	}
	return at
}

// MayMean reports whether text is the number alone, which another file may share, or have had.
func (n Number) MayMean(text string) bool { return text == strconv.Itoa(n.N) }

// numbers are those of the files of a kind that are or were in some folders, by name.
type numbers map[string]Number

// numbersIn returns the numbers of the files in folders, damaged ones and those that were set aside too. Files of
// earlier versions hold none: theirs is their place among each other.
func numbersIn(endings []string, dirs ...string) numbers {
	var names []string
	for _, dir := range dirs {
		for _, folder := range []string{dir, filepath.Join(dir, store.AsideFolder)} {
			paths, _ := store.Paths(folder, endings...) // who lists the files tells of an error
			for _, path := range paths {
				names = append(names, filepath.Base(path))
			}
		}
	}
	slices.Sort(names)
	all, files, unnumbered := numbers{}, map[int]int{}, 0
	for _, name := range slices.Compact(names) {
		n, tag := store.NameParts(name)
		placed := n == 0
		if placed {
			unnumbered++
			n = unnumbered
		}
		all[name] = Number{N: n, Tag: tag, Placed: placed}
		files[n]++
	}
	for name, n := range all {
		n.Shared = files[n.N] > 1
		all[name] = n
	}
	return all
}

// of returns the number of a file.
func (all numbers) of(path string) Number { return all[filepath.Base(path)] }

// next returns the number for a new file.
func (all numbers) next() int {
	last := 0
	for _, n := range all {
		last = max(last, n.N)
	}
	return last + 1
}

// RecordNumber returns the number of a levelling record among those of its folder.
func RecordNumber(path string) Number { return numbersIn(recordEndings, filepath.Dir(path)).of(path) }
