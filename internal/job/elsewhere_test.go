package job

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/practice"
	"evendraw/internal/settings"
)

// fullGarage is a garage with a twin's card, in which no record can be kept, and the path of what stands in the way.
func fullGarage(t *testing.T) (*settings.Settings, string) {
	t.Helper()
	g, card := twinGarage(t)
	p, err := g.BikePaths(card.Name)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(p.Syncs, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	return &settings.Settings{World: &settings.World{}, Garage: g, Bike: &card}, p.Syncs
}

// A record that finds no room waits, and goes into another folder with the bike's card and what went before.
func TestARecordWithoutRoomGoesElsewhere(t *testing.T) {
	t.Parallel()
	set, _ := fullGarage(t)
	k := &keeper{set: set, own: recordBike, unit: "kPa", begun: time.Now()}
	if err := k.update(keptSnapshot(2)); err != nil {
		t.Fatal(err)
	}
	if path, err := k.save(keptSnapshot(2)); err == nil || path != "" || k.owed == nil {
		t.Fatalf("saved %q, %v", path, err)
	}
	if path, err := k.moveTo(filepath.Join(set.Garage.Paths().Bikes, "twin", "syncs", "below a file")); err == nil {
		t.Errorf("moved to where nothing can be: %q", path)
	}
	other := t.TempDir()
	path, err := k.moveTo(other)
	if err != nil || !strings.HasPrefix(path, other) {
		t.Fatalf("moved: %q, %v", path, err)
	}
	g, _ := garage.Open(other)
	if rec, err := garage.LoadSync(path); err != nil || len(rec.Steps) != 2 || rec.Bike != "twin" {
		t.Errorf("record %+v, %v", rec, err)
	}
	if b, err := g.LoadBike("twin"); err != nil || b.Bank.Cylinders != 2 {
		t.Errorf("card %+v, %v", b, err)
	}
	if left, _ := set.Garage.ListUnfinished(); len(left) != 0 {
		t.Errorf("left behind: %+v", left)
	}
}

// What was turned but not saved, too, goes elsewhere; and once there is room again, a record that waits is saved.
func TestTurnsWithoutRoomGoElsewhere(t *testing.T) {
	t.Parallel()
	set, inTheWay := fullGarage(t)
	k := &keeper{set: set, own: recordBike, unit: "kPa", begun: time.Now()}
	if path, err := k.end(keptSnapshot(3)); err == nil {
		t.Fatalf("kept %q", path)
	}
	other := t.TempDir()
	if _, err := k.moveTo(other); err != nil {
		t.Fatal(err)
	}
	path, err := k.end(keptSnapshot(3))
	if rec, e := garage.LoadSync(path); err != nil || e != nil || len(rec.Steps) != 3 ||
		!strings.HasPrefix(path, other) {
		t.Errorf("kept %q, %v, %v", path, err, e)
	}

	k = &keeper{set: set, own: recordBike, unit: "kPa", begun: time.Now()}
	k.save(keptSnapshot(1))
	if path, err := k.retry(); err == nil {
		t.Errorf("saved without room: %q", path)
	}
	if err := os.Remove(inTheWay); err != nil {
		t.Fatal(err)
	}
	if path, err := k.retry(); err != nil || path == "" {
		t.Errorf("not saved: %q, %v", path, err)
	}
	if path, err := k.retry(); err != nil || path != "" {
		t.Errorf("saved twice: %q, %v", path, err)
	}
}

// A practice record that finds no room is kept in a folder beside as the run ends, a run without a screen too, and it
// is said where.
func TestAPracticeRecordWithoutRoomIsKept(t *testing.T) {
	t.Parallel()
	dir, spare := t.TempDir(), t.TempDir()
	inTheWay := filepath.Join(dir, "bikes")
	if err := os.WriteFile(inTheWay, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	g, err := garage.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	var told strings.Builder
	set := &settings.Settings{World: &settings.World{Spare: []string{spare}}, Garage: g}
	run := func() *live {
		return newLive(set, &LiveOptions{Headless: true},
			&practiceSource{Bike: practice.New(practice.Options{Name: practice.Fresh})}, settings.Streams{Err: &told})
	}
	l := run()
	if path, err := l.keeper.save(keptSnapshot(1)); err == nil {
		t.Fatalf("saved %q on a full disk", path)
	}
	err = l.keepLast()
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
	if see := l.keeper.see(); !strings.Contains(see, spare) || !strings.Contains(see, bikes[0].Name) {
		t.Errorf("seen by %q", see)
	}

	set.GarageNamed = true
	l = run()
	l.keeper.save(keptSnapshot(1))
	os.Remove(inTheWay)
	if err := l.keepLast(); err != nil || !strings.Contains(told.String(), "saved "+dir) ||
		!strings.Contains(told.String(), `--garage "`+dir+`" --bike`) {
		t.Errorf("with room again: %v, told %q", err, told.String())
	}
}
