package settings

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/invented"
)

// A bench card that finds no room, and answers to the checks, are kept in a folder beside, with the bike's card.
func TestABenchCardWithoutRoomGoesElsewhere(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	p, _ := g.BikePaths(bike.Name)
	if err := os.WriteFile(p.Bench, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	spare := t.TempDir()
	set := &Settings{Garage: g, Bike: &bike, World: &World{Spare: []string{spare}}}
	card := garage.NewBenchCard(&bike.Bank, garage.BenchApart)
	card.Note = "found with one clamp loose"
	path, err := set.SaveBench(&card)
	if path == "" || !strings.Contains(hint.Of(err), path) {
		t.Fatalf("%q, %v", path, err)
	}
	if soon := "may empty that folder"; !strings.Contains(hint.Of(err), soon) || // as it is one of temporary files
		strings.Contains(hint.Of(Elsewhere("card", path, "/home/me/"+spareName, g, err)), soon) {
		t.Errorf("%v", hint.Of(err))
	}
	other, _ := garage.Open(filepath.Join(spare, spareName))
	if cards, _ := other.ListBench(bike.Name); len(cards) != 1 || cards[0].Kept.Note != card.Note {
		t.Errorf("kept %+v", cards)
	}
	ticks := []garage.Tick{{ID: garage.CheckBrackets, Answer: garage.TickDone}}
	if path, err := set.SaveChecks(ticks); path == "" || !strings.Contains(hint.Of(err), path) {
		t.Fatalf("%q, %v", path, err)
	}
	kept, err := other.LoadChecks(bike.Name)
	if _, ok := garage.TickOf(kept, garage.CheckBrackets); !ok {
		t.Errorf("kept %+v, %v", kept, err)
	}
}
