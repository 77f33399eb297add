package tell

import (
	"strings"
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
)

// A record without a zero pass is marked, and a trend with one says why it counts for no drift.
func TestTrendMarksWhatIsNotZeroed(t *testing.T) {
	t.Parallel()
	day := func(n int, zeroed bool) garage.TrendPoint {
		places := []pressure.KPa{-1, 1}
		return garage.TrendPoint{Time: time.Date(2026, 3, n, 10, 0, 0, 0, time.UTC), Before: places, After: places,
			Zeroed: zeroed}
	}
	both := garage.Trend{Points: []garage.TrendPoint{day(1, true), day(2, false)}}
	marked := 0
	for _, line := range trendLines(&both, pressure.Kilopascal) {
		if strings.HasSuffix(line, "|"+strings.Repeat("·", laneHalf-1)+"2  not zeroed") {
			marked++
		}
	}
	text := strings.Join(trendLines(&both, pressure.Kilopascal), "\n")
	if marked != 2 || !strings.Contains(text, "without a zero pass count for no drift") {
		t.Errorf("%d marked:\n%s", marked, text)
	}
	zeroed := garage.Trend{Points: both.Points[:1]}
	if text := strings.Join(trendLines(&zeroed, pressure.Kilopascal), "\n"); strings.Contains(text, "zero") {
		t.Errorf("told of zeroed records:\n%s", text)
	}
}
