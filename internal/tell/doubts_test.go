package tell

import (
	"math"
	"strings"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
)

// A record says of each pilot screw that was left in a trial position where it stands and how it goes back, and of no
// other.
func TestTrialPositionIsTold(t *testing.T) {
	t.Parallel()
	nan := garage.NullFloat(math.NaN())
	for _, row := range []struct {
		pilot garage.RecordPilot
		want  string // "" is nothing
	}{
		{garage.RecordPilot{Cylinder: 2, Found: "trimming", StartTurnsOut: 2, MovedTurns: 0.625},
			"pilot screw 2 stands in a trial position, 2 5/8 turns out: go on with its trim, or turn it back in by " +
				"5/8 of a turn"},
		{garage.RecordPilot{Cylinder: 1, Found: "to-set", StartTurnsOut: nan, MovedTurns: -1.25},
			"pilot screw 1 stands in a trial position: go on with its trim, or turn it back out by 1 1/4 turns"},
		{garage.RecordPilot{Cylinder: 3, Found: "unturned", StartTurnsOut: nan, MovedTurns: 1},
			"pilot screw 3 stands in a trial position: go on with its trim, or turn it back in by one turn"},
		{garage.RecordPilot{Cylinder: 2, Found: "at-peak", MovedTurns: 0.625}, ""},
		{garage.RecordPilot{Cylinder: 2, Found: "trimming"}, ""},
		{garage.RecordPilot{Cylinder: 2, Found: "trimming", OpenTurns: 0.25},
			"pilot screw 2: whether its last turn was made is not known; if it was, undo it first: in by 1/4 of a " +
				"turn"},
	} {
		rec := garage.SyncRecord{Pilots: []garage.RecordPilot{row.pilot}}
		if got := strings.Join(Doubts(&rec, pressure.Kilopascal), "\n"); got != row.want {
			t.Errorf("%+v: %q", row.pilot, got)
		}
	}
}

// A record whose bank each blip moves says so.
func TestPlayIsTold(t *testing.T) {
	t.Parallel()
	rec := garage.SyncRecord{Halts: &garage.RecordHalts{PlayKPa: 0.45}}
	got := strings.Join(Doubts(&rec, pressure.Kilopascal), "\n")
	if !strings.HasPrefix(got, "the linkage: it has play") {
		t.Errorf("%q", got)
	}
}

// What nobody has zeroed is marked wherever its figures stand, and what is zeroed is not.
func TestWhatIsNotZeroedIsMarked(t *testing.T) {
	t.Parallel()
	for _, zero := range []*garage.RecordZero{nil, {}} {
		after := (*garage.RecordReading)(nil).Known()
		s := garage.StoredSync{Kept: garage.SyncRecord{After: &after, Zero: zero, AmbientFrom: garage.AmbientAssumed}}
		u := pressure.Units()[0]
		lines := strings.Join(recordLines(&s, u), "\n")
		if strings.Contains(lines, "after, not zeroed: spread") != (zero == nil) ||
			strings.Contains(historyLine(&s, u), "not zeroed") != (zero == nil) ||
			!strings.Contains(lines, "only assumed") {
			t.Errorf("zero %v: %s\n%s", zero, lines, historyLine(&s, u))
		}
	}
}
