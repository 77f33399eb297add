package tell

import (
	"strings"
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
)

// Of several records of one job each but the last says which one it went on with; a correction is no going on.
func TestHistoryTellsOneJob(t *testing.T) {
	t.Parallel()
	begun := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	record := func(n int, begun time.Time, corrects string) garage.StoredSync {
		return garage.StoredSync{Path: string(rune('a' + n)), Number: garage.Number{N: n},
			Record: garage.SyncRecord{Begun: begun, Time: begun.Add(time.Duration(n) * time.Minute),
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
