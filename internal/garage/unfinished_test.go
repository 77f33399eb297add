package garage

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/store"
)

// leftBehind makes a garage with the unfinished record of a program that is gone.
func leftBehind(t *testing.T) (g *Garage, path string) {
	t.Helper()
	g = openTest(t)
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	u, err := g.OpenUnfinished("invented four")
	must(t, err)
	rec := someRecord()
	rec.Begun = rec.Time.Add(-5 * time.Minute)
	must(t, u.Update(rec))
	rec.IdlingSeconds += 60
	must(t, u.Update(rec))
	p, err := g.BikePaths("Invented Four")
	must(t, err)
	paths, err := store.Paths(p.Unfinished, syncEnding)
	must(t, err)
	if len(paths) != 1 {
		t.Fatalf("two updates made %v", paths)
	}
	return g, paths[0]
}

func TestUnfinishedIsListedResumedAndFinished(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	left, damaged := g.ListUnfinished()
	if len(left) != 1 || damaged != nil || left[0].Path != path || left[0].Record.Verdict != VerdictUnfinished ||
		left[0].Record.IdlingSeconds != 183.5 {
		t.Fatalf("left %+v, damaged %v", left, damaged)
	}
	u, err := g.Resume(path)
	must(t, err)
	more := someRecord()
	more.Steps, more.Before, more.IdlingSeconds, more.Note = more.Steps[:1], nil, 10, ""
	must(t, u.Update(more))
	kept, err := u.Finish(more)
	must(t, err)
	got, err := LoadSync(kept)
	must(t, err)
	if len(got.Steps) != 4 || got.IdlingSeconds != 193.5 || got.Before == nil || got.Note != someRecord().Note ||
		got.Verdict != VerdictDone ||
		!got.Begun.Equal(someRecord().Time.Add(-5*time.Minute)) {
		t.Errorf("got %+v", got)
	}
	if text := readText(t, kept); strings.Contains(text, `"process"`) {
		t.Errorf("the record tells of the program that wrote it:\n%s", text)
	}
	if left, _ := g.ListUnfinished(); left != nil {
		t.Errorf("still left: %+v", left)
	}
}

func TestUnfinishedIsKeptOrDiscarded(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	u, err := g.Resume(path)
	must(t, err)
	kept, err := u.Keep()
	must(t, err)
	if got, err := LoadSync(kept); err != nil || got.Verdict != VerdictUnfinished || len(got.Steps) != 3 {
		t.Errorf("got %+v, %v", got, err)
	}
	g, path = leftBehind(t)
	u, err = g.Resume(path)
	must(t, err)
	must(t, u.Discard())
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("still there: %v", err)
	}
	if records, _ := g.ListSyncs("Invented Four"); records != nil {
		t.Errorf("records %+v", records)
	}
	must(t, u.Discard())
}

// What a newer program of the same format wrote stays when the run goes on here.
func TestUnfinishedKeepsUnknownKeys(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	text := readText(t, path)
	body := strings.Replace(text[:len(text)-store.SealLength], "{\n", "{\n  \"weather\": {\"wind\": [1, 2]},\n", 1)
	must(t, os.WriteFile(path, store.Seal([]byte(body)), 0o666))
	u, err := g.Resume(path)
	must(t, err)
	must(t, u.Update(someRecord()))
	kept, err := u.Keep()
	must(t, err)
	if got := readText(t, kept); !strings.Contains(got, `"weather": {`) || !strings.Contains(got, `"wind": [`) {
		t.Errorf("the unknown key is gone:\n%s", got)
	}
	if _, err := LoadSync(kept); err != nil {
		t.Error(err)
	}
}

func TestDamagedUnfinishedIsTold(t *testing.T) {
	t.Parallel()
	g, path := leftBehind(t)
	must(t, os.WriteFile(path, []byte(readText(t, path)[1:]), 0o666))
	if left, damaged := g.ListUnfinished(); left != nil || len(damaged) != 1 || damaged[0].Path != path {
		t.Errorf("left %v, damaged %v", left, damaged)
	}
	if _, err := g.Resume(path); err == nil {
		t.Error("resumed")
	}
	if _, err := g.Resume(filepath.Join(g.dir, "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}
