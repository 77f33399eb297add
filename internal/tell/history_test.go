package tell

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// Of several records of one job each but the last says which one it went on with; a correction is no going on.
func TestHistoryTellsOneJob(t *testing.T) {
	t.Parallel()
	begun := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	record := func(n int, begun time.Time, corrects string) garage.StoredSync {
		return garage.StoredSync{Path: string(rune('a' + n)), Number: garage.Number{N: n},
			Kept: garage.SyncRecord{Begun: begun, Time: begun.Add(time.Duration(n) * time.Minute),
				Verdict: garage.VerdictSaved, Corrects: corrects}}
	}
	records := []garage.StoredSync{record(1, begun, ""), record(2, begun, ""), record(3, begun.Add(time.Hour), ""),
		record(4, time.Time{}, ""), record(5, time.Time{}, ""), record(6, begun, ""), record(7, begun, "x")}
	for i, line := range strings.Split(strings.TrimSpace(HistoryLines(records, 0, pressure.Kilopascal)), "\n") {
		if first := i == 0; first != strings.Contains(line, "(the job goes on: 2)") ||
			first != strings.Contains(line, "goes on") {
			t.Error(line)
		}
	}
}

// A list without records names those that were set aside, and only where there are some.
func TestNoRecordsTellsOfThoseSetAside(t *testing.T) {
	t.Parallel()
	for aside, want := range map[int]bool{0: false, 2: true} {
		var out strings.Builder
		if err := History(&out, "Invented Four", nil, nil, aside, 10, pressure.Kilopascal, false); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(out.String(), "set aside: 2;") != want || strings.Contains(out.String(), "aside") != want {
			t.Errorf("%d set aside: %s", aside, out.String())
		}
	}
}

// A zero error that is larger than the data sheet allows is told with what that means.
func TestZeroTextSaysWhatIsAllowed(t *testing.T) {
	t.Parallel()
	z := sensor.Zero{Ambient: 101, Offsets: []pressure.KPa{0.4, -3.1}, Uncertainty: make([]pressure.KPa, 2),
		Noise: make([]pressure.KPa, 2)}
	var out strings.Builder
	ZeroText(&out, &z, &sensor.Setup{}, Kept{})
	lines := strings.Split(out.String(), "\n")
	if len(lines) != 5 ||
		!strings.Contains(lines[3], "allows ±1.5, so that two sound ones may be 3.0 apart; more than 4.5 is") {
		t.Errorf("%q", lines)
	}
}

// A bank that was levelled by its butterflies' openings has unlike vacuums: the record says why.
func TestARecordByOpeningsSaysSo(t *testing.T) {
	t.Parallel()
	for by, said := range map[string]bool{"": false, garage.LevelByDraw: false, garage.LevelByOpening: true} {
		s := garage.StoredSync{Kept: garage.SyncRecord{Bike: "twin", LevelBy: by}}
		if lines := recordLines(&s, pressure.Kilopascal); slices.Contains(lines, "  Levelled: "+ByOpening) != said {
			t.Errorf("%q: %q", by, lines)
		}
	}
}
