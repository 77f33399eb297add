package garage

import (
	"cmp"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"evendraw/internal/store"
)

// Stored is a levelling record or a bench card, the file it came from, and its number among the bike's; that of a file
// by name is 0.
type Stored[T Numbered] struct {
	Path   string
	Kept   T
	Number Number
	// By is the number of the last one that corrects this one; its N is 0 where none does, or outside of a list.
	By Number
}

// StoredSync and StoredBench are the two kinds of it.
type (
	StoredSync  = Stored[SyncRecord]
	StoredBench = Stored[BenchCard]
)

// Numbered is what is kept in files with numbers.
type Numbered interface {
	SyncRecord | BenchCard
	// of returns the time that it is of, and the file name of the one that it corrects.
	of() (at time.Time, corrects string)
	endings() []string // of its files' names
}

func (r SyncRecord) of() (at time.Time, corrects string) { return r.Time, r.Corrects }
func (s BenchCard) of() (at time.Time, corrects string)  { return s.Time, s.Corrects }
func (SyncRecord) endings() []string                     { return recordEndings }
func (BenchCard) endings() []string                      { return benchEndings }

// Filed returns by which number it goes, and the time that it is of.
func (s *Stored[T]) Filed() (Number, time.Time) {
	at, _ := s.Kept.of()
	return s.Number, at
}

// Corrects returns the number of the one that this one corrects, 0 where there is none beside it.
func (s *Stored[T]) Corrects() Number {
	_, corrects := s.Kept.of()
	return numbersIn(s.Kept.endings(), filepath.Dir(s.Path))[corrects]
}

// list reads those of a folder, in the order of their own times, and apart the errors of files that are damaged. A
// correction comes after what it corrects.
func list[T Numbered](dir string, load func(path string) (T, error)) (all []Stored[T], damaged []*Error) {
	var kind T
	numbers := numbersIn(kind.endings(), dir)
	all, damaged = store.List(dir, kind.endings(), func(path string) (Stored[T], error) {
		kept, err := load(path)
		return Stored[T]{Path: path, Kept: kept, Number: numbers.of(path)}, err
	})
	slices.SortFunc(all, func(a, b Stored[T]) int {
		n, at := a.Filed()
		m, bt := b.Filed()
		return cmp.Or(at.Compare(bt), cmp.Compare(n.N, m.N), strings.Compare(n.Tag, m.Tag))
	})
	by := map[string]Number{}
	for i := range all {
		if _, corrects := all[i].Kept.of(); corrects != "" {
			by[corrects] = all[i].Number
		}
	}
	for i := range all {
		all[i].By = by[filepath.Base(all[i].Path)]
	}
	return all, damaged
}

// listOf is list of a folder of a bike.
func listOf[T Numbered](g *Garage, bike string, folder func(BikePaths) string,
	load func(path string) (T, error)) (all []Stored[T], damaged []*Error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return nil, []*Error{store.AsError("", err)}
	}
	return list(folder(p), load)
}
