package garage

import (
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// Row 16: the computer's clock is set back by an hour between records, and by a
// second within them. No record takes another's place, the order is the same
// each time it is asked for, and no figure of a run turns negative, for those
// come from the board's clock.
func TestClockSetBack(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	g := open(t.TempDir(), func() time.Time { return at })
	b := DefaultBike("Invented Twin", 2)
	must(t, g.NewBike(&b))
	var saved []string
	for _, step := range []time.Duration{0, time.Second, -time.Hour, 0, -time.Second, time.Hour, 0} {
		at = at.Add(step)
		r := someRecord()
		r.Time = time.Time{}
		path, err := g.SaveSync(b.Name, r)
		must(t, err)
		if slices.Contains(saved, path) {
			t.Errorf("%s stands in the place of an older one", filepath.Base(path))
		}
		saved = append(saved, path)
	}
	first, damaged := g.ListSyncs(b.Name)
	again, _ := g.ListSyncs(b.Name)
	if len(damaged) > 0 || len(first) != len(saved) {
		t.Fatalf("%d records of %d, %v", len(first), len(saved), damaged)
	}
	for i := range first {
		if first[i].Path != again[i].Path {
			t.Errorf("record %d is %s, then %s", i, first[i].Path, again[i].Path)
		}
		if first[i].Kept.IdlingSeconds < 0 {
			t.Errorf("%s: %v s of idling", first[i].Path, first[i].Kept.IdlingSeconds)
		}
		if i > 0 && first[i].Kept.Time.Before(first[i-1].Kept.Time) {
			t.Errorf("%s comes after %s", first[i].Path, first[i-1].Path)
		}
		if n := first[i].Number.N; first[i].Path != saved[n-1] {
			t.Errorf("%s has number %d, which is that of %s", first[i].Path, n, saved[n-1])
		}
	}
	t.Logf("count: %d records while the clock was set back, none lost", len(saved))
}
