package keep

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/settings"
)

// fullGarage is a garage with a twin's card, in which no record can be kept, and the path of what stands in the way.
func fullGarage(t *testing.T) (*settings.Settings, string) {
	t.Helper()
	g, card := invented.Twin(t)
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
	k := New(set, Options{Own: Bike})
	if err := k.Update(keptSnapshot(2)); err != nil {
		t.Fatal(err)
	}
	if path, err := k.Save(keptSnapshot(2)); err == nil || path != "" || k.owed == nil {
		t.Fatalf("saved %q, %v", path, err)
	}
	if path, err := k.MoveTo(filepath.Join(set.Garage.Paths().Bikes, "twin", "syncs", "below a file")); err == nil {
		t.Errorf("moved to where nothing can be: %q", path)
	}
	other := t.TempDir()
	path, err := k.MoveTo(other)
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
	k := New(set, Options{Own: Bike})
	if path, err := k.End(keptSnapshot(3)); err == nil {
		t.Fatalf("kept %q", path)
	}
	other := t.TempDir()
	if _, err := k.MoveTo(other); err != nil {
		t.Fatal(err)
	}
	path, err := k.End(keptSnapshot(3))
	if rec, e := garage.LoadSync(path); err != nil || e != nil || len(rec.Steps) != 3 ||
		!strings.HasPrefix(path, other) {
		t.Errorf("kept %q, %v, %v", path, err, e)
	}

	k = New(set, Options{Own: Bike})
	k.Save(keptSnapshot(1))
	if path, err := k.Retry(); err == nil {
		t.Errorf("saved without room: %q", path)
	}
	if err := os.Remove(inTheWay); err != nil {
		t.Fatal(err)
	}
	if path, err := k.Retry(); err != nil || path == "" {
		t.Errorf("not saved: %q, %v", path, err)
	}
	if path, err := k.Retry(); err != nil || path != "" {
		t.Errorf("saved twice: %q, %v", path, err)
	}
}
