package garage

import (
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"
)

// shelf is a garage with one bike, and its records' files by number, from 1 on.
type shelf struct {
	*testing.T
	g     *Garage
	files []string
}

func (s *shelf) save(at time.Time, verdict, corrects string) {
	s.Helper()
	r := someRecord()
	r.Time, r.Verdict, r.Corrects = at, verdict, filepath.Base(corrects)
	if corrects == "" {
		r.Corrects = ""
	}
	path, err := s.g.SaveSync("Invented Four", r)
	must(s.T, err)
	s.files = append(s.files, path)
}

// check holds the list's numbers against those that are wanted, in their order, and each against its file.
func (s *shelf) check(what string, want ...int) {
	s.Helper()
	records, _ := s.g.ListSyncs("Invented Four")
	var got []int
	for _, r := range records {
		got = append(got, r.Number.N)
		if r.Number.N != slices.Index(s.files, r.Path)+1 {
			s.Errorf("%s: %s has number %v", what, r.Path, r.Number)
		}
	}
	if !slices.Equal(got, want) {
		s.Fatalf("%s: numbers %v, want %v", what, got, want)
	}
}

// setAside damages a record and sets it aside.
func (s *shelf) setAside(number int) {
	s.Helper()
	must(s.T, os.WriteFile(s.files[number-1], []byte("torn"), 0o600))
	if n := RecordNumber(s.files[number-1]).N; n != number {
		s.Errorf("the damaged record %d has number %d", number, n)
	}
	_, damaged := s.g.ListSyncs("Invented Four")
	_, err := s.g.SetAside(damaged[0])
	must(s.T, err)
}

// A number that stands on paper stays that record's: through corrections, a run that is kept late, a damaged file,
// and one that is set aside.
func TestNumbersStay(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	s := &shelf{T: t, g: open(t.TempDir(), func() time.Time { return at })}
	b := DefaultBike("Invented Four", 4)
	must(t, s.g.NewBike(&b))
	for n := range time.Duration(3) {
		s.save(at.Add(n*time.Minute), VerdictDone, "")
	}
	s.save(at, VerdictDone, s.files[0])
	s.check("corrected", 1, 4, 2, 3) // beside what it corrects, for it has its time
	s.save(at, VerdictDone, s.files[3])
	s.check("twice", 1, 4, 5, 2, 3)
	at = at.Add(time.Hour)
	s.save(at.Add(-59*time.Minute), VerdictUnfinished, "") // of the time of number 2
	s.check("kept late", 1, 4, 5, 2, 6, 3)
	s.setAside(2)
	s.check("set aside", 1, 4, 5, 6, 3)
	s.setAside(6)
	s.save(at.Add(-time.Hour), VerdictDone, "")
	s.check("after the last was set aside", 1, 4, 5, 7, 3)
}

// So does a bench card's.
func TestBenchNumbersStay(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	g := open(t.TempDir(), func() time.Time { return at })
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	for n := range 3 {
		at = at.Add(time.Minute)
		card := NewBenchCard(&b.Bank, BenchApart)
		if n == 2 {
			cards, _ := g.ListBench(b.Name)
			card.Corrects, card.Time = filepath.Base(cards[0].Path), cards[0].Kept.Time
		}
		_, err := g.SaveBench(b.Name, &card)
		must(t, err)
	}
	cards, _ := g.ListBench(b.Name)
	for i, want := range []int{1, 3, 2} {
		if cards[i].Number.N != want {
			t.Errorf("place %d: number %v, want %d", i, cards[i].Number, want)
		}
	}
}

// Two laptops keep records of one bike, and one folder is copied over the other: each record keeps the number that
// stands on paper, and one that two have is told with what sets them apart.
func TestNumbersStayThroughAMerge(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	laptop := func() *shelf {
		s := &shelf{T: t, g: open(t.TempDir(), func() time.Time { return at })}
		b := DefaultBike("Invented Four", 4)
		must(t, s.g.NewBike(&b))
		return s
	}
	a, b := laptop(), laptop()
	for n := range time.Duration(3) { // b's lie between a's
		a.save(at.Add(n*time.Hour), VerdictDone, "")
		if n < 2 {
			b.save(at.Add(n*time.Hour+time.Minute), VerdictDone, "")
		}
	}
	p, err := a.g.BikePaths("Invented Four")
	must(t, err)
	for _, path := range b.files {
		text, err := os.ReadFile(path)
		must(t, err)
		must(t, os.WriteFile(filepath.Join(p.Syncs, filepath.Base(path)), text, 0o600))
	}
	records, _ := a.g.ListSyncs("Invented Four")
	for i, want := range []int{1, 1, 2, 2, 3} {
		n := records[i].Number
		if n.N != want || n.Shared != (want < 3) || !n.MayMean(strconv.Itoa(want)) ||
			(Find([]Number{n}, strconv.Itoa(want)) == 0) == n.Shared {
			t.Errorf("place %d: number %+v (%s), want %d", i, n, n, want)
		}
		var list []Number
		for j := range records {
			list = append(list, records[j].Number)
		}
		if at := Find(list, n.String()); at != i {
			t.Errorf("%s is place %d, want %d", n, at, i)
		}
	}
	if path, err := a.g.SaveSync("Invented Four", someRecord()); err != nil || RecordNumber(path).N != 4 {
		t.Errorf("the next one is %v, %v", RecordNumber(path), err)
	}
}

// The files of earlier versions have no number in their names: theirs is their place, and a new one comes after. What
// was once written on paper means the same file after another folder was copied over theirs, though their places moved,
// and a place alone means none.
func TestNumbersOfEarlierFiles(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for _, name := range []string{"20260301T080000.000Z-0a1b.sync", "20260302T080000.000Z-ffff.level"} {
		must(t, os.WriteFile(filepath.Join(dir, name), nil, 0o600))
	}
	all := numbersIn(recordEndings, dir)
	const later = "20260302T080000.000Z-ffff.level"
	before := all.of(later)
	if before != (Number{N: 2, Tag: "ffff", Placed: true}) || before.String() != "2-ffff" || all.next() != 3 {
		t.Errorf("number %+v, next %d", before, all.next())
	}
	must(t, os.WriteFile(filepath.Join(dir, "20260301T090000.000Z-2c3d.level"), nil, 0o600)) // of another laptop
	all = numbersIn(recordEndings, dir)
	for name, n := range all {
		one := []Number{n}
		if (Find(one, before.String()) == 0) != (name == later) || Find(one, "2") == 0 {
			t.Errorf("%s is %s: %s is at %d, 2 at %d", name, n, before, Find(one, before.String()), Find(one, "2"))
		}
	}
	if n := all.of(later); n.N != 3 || !n.MayMean("3") {
		t.Errorf("now %+v", n)
	}
}

// What is typed in full names the file of that number and tag before any of the tag alone; the tag alone, with digits
// before it, names one of an earlier version whose tag no other file has.
func TestFind(t *testing.T) {
	t.Parallel()
	list := []Number{{N: 1, Tag: "0a1b", Placed: true}, {N: 2, Tag: "0a1b", Placed: true},
		{N: 3, Tag: "2c3d", Placed: true}, {N: 4, Tag: "4e5f", Placed: true}, {N: 5, Tag: "4e5f"}, {N: 6, Tag: "6a7b"}}
	for text, want := range map[string]int{"1-0a1b": 0, "2-0a1b": 1, "3-0a1b": -1, "9-2c3d": 2, "x-2c3d": -1,
		"-2c3d": -1, "2c3d": -1, "4-4e5f": 3, "5-4e5f": 4, "6-4e5f": -1, "6": 5, "6-6a7b": 5, "7-6a7b": -1,
		"3": -1, "3-": -1, "": -1} {
		if got := Find(list, text); got != want {
			t.Errorf("%q is at %d, want %d", text, got, want)
		}
	}
}

// Of three runs that were cut off, of two bikes, one is kept: the others go by their numbers as before.
func TestUnfinishedNumbersStay(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	g := open(t.TempDir(), func() time.Time { return at })
	var runs []*Unfinished
	for i, name := range []string{"Invented Four", "Invented Twin", "Invented Four"} {
		b := DefaultBike(name, 4)
		if i < 2 {
			must(t, g.NewBike(&b))
		}
		at = at.Add(time.Minute)
		u, err := g.OpenUnfinished(name)
		must(t, err)
		r := someRecord()
		r.Time = time.Time{}
		must(t, u.Update(r))
		runs = append(runs, u)
	}
	left(t, g, 1, 2, 3)
	_, err := runs[0].Keep()
	must(t, err)
	left(t, g, 2, 3)
}

// left holds the numbers of the unfinished records against those that are wanted.
func left(t *testing.T, g *Garage, want ...int) {
	t.Helper()
	list, _ := g.ListUnfinished()
	var got []int
	for _, l := range list {
		got = append(got, l.Number.N)
	}
	if !slices.Equal(got, want) {
		t.Errorf("numbers %v, want %v", got, want)
	}
}
