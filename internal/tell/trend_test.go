package tell

import (
	"math"
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

// What a screw does is told with between which figures it lies, and not more surely than it is known.
func TestTrendTellsHowSureAnEffectIs(t *testing.T) {
	t.Parallel()
	unknown := garage.NullFloat(math.NaN())
	for _, c := range []struct {
		effects []float64
		factors []garage.NullFloat
		want    string
	}{
		{[]float64{-5.8}, []garage.NullFloat{1.5}, "screw 1-2: −5.8 (−3.9 to −8.7) kPa of vacuum per turn clockwise"},
		{[]float64{-5.8}, []garage.NullFloat{unknown}, "screw 1-2: −5.8 or so kPa of vacuum per turn clockwise"},
		{[]float64{-4, -6}, []garage.NullFloat{unknown, 2},
			"screw 1-2: −6.0 (−3.0 to −12.0) kPa of vacuum per turn clockwise now; from −6.0 to −4.0 in 2 records"},
	} {
		trend := garage.Trend{Points: []garage.TrendPoint{{Zeroed: true, After: []pressure.KPa{0, 0}}},
			Effects: []garage.EffectTrend{{Screw: "1-2", KPaPerTurn: c.effects, Factors: c.factors}}}
		if got := strings.Join(trendLines(&trend, pressure.Kilopascal), "\n"); !strings.HasSuffix(got, c.want) {
			t.Errorf("got %s\nwant %s", got, c.want)
		}
	}
}
