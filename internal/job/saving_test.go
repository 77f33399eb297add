package job

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/invented"
	"evendraw/internal/practice"
	"evendraw/internal/settings"
)

// A practice record that finds no room is kept in a folder beside as the run ends, a run without a screen too, and it
// is said where.
func TestAPracticeRecordWithoutRoomIsKept(t *testing.T) {
	t.Parallel()
	dir, spare := t.TempDir(), t.TempDir()
	inTheWay := filepath.Join(dir, "bikes")
	if err := os.WriteFile(inTheWay, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	g := invented.Garage(t, dir)
	var told strings.Builder
	set := &settings.Settings{World: &settings.World{Spare: []string{spare}}, Garage: g}
	run := func() *live {
		return newLive(set, &LiveOptions{Headless: true},
			&practiceSource{Bike: practice.New(practice.Options{Name: practice.Fresh})}, settings.Streams{Err: &told})
	}
	l := run()
	if path, err := l.keeper.Save(invented.IdlingTwin()); err == nil {
		t.Fatalf("saved %q on a full disk", path)
	}
	err := l.keepLast()
	if !strings.Contains(hint.Of(err), spare) {
		t.Fatalf("%v, told %q", err, told.String())
	}
	other, _ := garage.Open(set.World.SpareFolders()[0])
	bikes, _ := other.ListBikes()
	if len(bikes) != 1 || !practice.HasCard(bikes[0].Name) {
		t.Fatalf("cards %+v", bikes)
	}
	if heads, _ := other.ListSyncs(bikes[0].Name); len(heads) != 1 {
		t.Errorf("records %+v", heads)
	}
	if see := l.keeper.See(); !strings.Contains(see, spare) || !strings.Contains(see, bikes[0].Name) {
		t.Errorf("seen by %q", see)
	}

	set.GarageNamed = true
	l = run()
	l.keeper.Save(invented.IdlingTwin())
	os.Remove(inTheWay)
	if err := l.keepLast(); err != nil || !strings.Contains(told.String(), "saved "+dir) ||
		!strings.Contains(told.String(), `--garage "`+dir+`" --bike`) {
		t.Errorf("with room again: %v, told %q", err, told.String())
	}
}
