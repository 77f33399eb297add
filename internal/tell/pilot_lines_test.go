package tell

import (
	"math"
	"slices"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
)

// A record says of each pilot screw how its trim ended, and of a guess that it is one.
func TestPilotLines(t *testing.T) {
	t.Parallel()
	nan := garage.NullFloat(math.NaN())
	r := garage.SyncRecord{Pilots: []garage.RecordPilot{
		{Cylinder: 1, Found: "at-peak", StartTurnsOut: 2, MovedTurns: -0.125, BestTurns: -0.125,
			UncertaintyTurns: 0.06},
		{Cylinder: 2, Found: "unsure", StartTurnsOut: 2, MovedTurns: 0.25, BestTurns: 0.25, UncertaintyTurns: nan},
		{Cylinder: 3, Found: "trimming", StartTurnsOut: 2, MovedTurns: 0.5, BestTurns: nan, UncertaintyTurns: nan},
		{Cylinder: 4, Found: "no-answer", StartTurnsOut: nan, BestTurns: nan, UncertaintyTurns: nan}}}
	want := []string{"pilot screw 1: best at 1 7/8 turns out, sure to ±0.06 turns",
		"pilot screw 2: left at a guess, 2 1/4 turns out; how sure is not known",
		"pilot screw 4: the speed does not change with it"}
	if got := PilotLines(&r); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if lines := recordLines(&garage.StoredSync{Kept: r}, pressure.Kilopascal); !slices.Contains(lines, "  "+want[0]) {
		t.Errorf("%q", lines)
	}
}
