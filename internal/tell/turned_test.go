package tell

import (
	"math"
	"slices"
	"testing"

	"evendraw/internal/garage"
)

// Each screw that was turned is told, how far where that was seen.
func TestEachTurnedScrewIsTold(t *testing.T) {
	t.Parallel()
	unknown := garage.NullFloat(math.NaN())
	r := &garage.SyncRecord{
		Effects: []garage.RecordEffect{{Screw: "3-4", KPaPerTurn: 5, NetTurns: 0.5},
			{Screw: "2-3", KPaPerTurn: 4, NetTurns: unknown}},
		Steps: []garage.RecordStep{{Screw: "1-2"}, {Screw: "3-4"}, {Screw: "1-2"}, {Screw: "2-3"}, {Screw: ""}},
	}
	want := []string{"screw 3-4: about 1/2 of a turn clockwise in all",
		"screw 1-2: turned; how far in all is not sure", "screw 2-3: turned; how far in all is not sure"}
	if got := TurnedLines(r); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
