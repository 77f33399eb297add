package garage

import (
	"os"
	"path/filepath"
	"slices"
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
		got = append(got, r.Number)
		if r.Number != slices.Index(s.files, r.Path)+1 {
			s.Errorf("%s: %s has number %d", what, r.Path, r.Number)
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
	if n := RecordNumber(s.files[number-1]); n != number {
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
			card.Corrects, card.Time = filepath.Base(cards[0].Path), cards[0].Card.Time
		}
		_, err := g.SaveBench(b.Name, &card)
		must(t, err)
	}
	cards, _ := g.ListBench(b.Name)
	for i, want := range []int{1, 3, 2} {
		if cards[i].Number != want {
			t.Errorf("place %d: number %d, want %d", i, cards[i].Number, want)
		}
	}
}
