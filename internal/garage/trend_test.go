package garage

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"evendraw/internal/pressure"
	"evendraw/internal/series"
	"evendraw/internal/store"
)

// levelled is a record of a bank whose cylinders stood at these draws before and after.
func levelled(day int, before, after []float64) StoredSync {
	r := someRecord()
	r.Time = time.Date(2026, 3, day, 10, 0, 0, 0, time.UTC)
	for i, set := range [][]float64{before, after} {
		reading := ReadingRecord(someReading(1))
		for c := range reading.Cylinders {
			reading.Cylinders[c].DrawKPa = NullKPa(set[c])
		}
		if i == 0 {
			r.Before = reading
		} else {
			r.After = reading
		}
	}
	r.Effects = []RecordEffect{{"1-2", NullFloat(-5 - float64(day)), 0, 0}, {"3-4", NullFloat(math.NaN()), 0, 0}}
	return StoredSync{Path: r.Time.Format(store.TimeLayout) + "-0000.sync", Kept: *r}
}

func TestTrend(t *testing.T) {
	t.Parallel()
	level := []float64{25, 25, 25, 25}
	records := []StoredSync{ // not in order
		levelled(3, []float64{24.7, 24.7, 25.9, 24.7}, level),
		levelled(1, []float64{20, 22, 24, 26}, level),
		levelled(2, []float64{24.8, 24.8, 25.6, 24.8}, level),
		levelled(4, []float64{24.9, 24.7, 25.6, 24.8}, level),
	}
	trend := TrendOf(records)
	if len(trend.Points) != 4 || len(trend.Drifts) != 4 || trend.Points[0].Before[0] != -3 ||
		trend.Points[3].After[2] != 0 {
		t.Fatalf("%+v", trend)
	}
	// By hand: 0.6, 0.9, 0.6 have the mean 0.7 and the standard deviation 0.17321, so that
	// the interval is 4.303 · 0.17321 / √3 = 0.4303.
	d := trend.Drifts[2]
	if math.Abs(float64(d.Mean)-0.7) > 1e-9 || math.Abs(float64(d.HalfWidth)-0.4303) > 1e-4 || !d.Real() ||
		d.Same != 3 || d.Times != 3 {
		t.Errorf("%+v", d)
	}
	if d := trend.Drifts[0]; d.Real() { // 0.2 kPa, every time: within the aim
		t.Errorf("%+v", d)
	}
	if e := trend.Effects; len(e) != 1 || e[0].Screw != "1-2" || len(e[0].KPaPerTurn) != 4 ||
		e[0].KPaPerTurn[3] != -9 || !math.IsNaN(float64(e[0].Factors[3])) { // which a record without one does not know
		t.Errorf("%+v", trend.Effects)
	}
	// Two records of one run share what they began with: the second's is no drift from the first's end.
	early, late := records[3], records[3]
	early.Kept.Begun, late.Kept.Begun = early.Kept.Time, early.Kept.Time
	early.Kept.Time, early.Kept.After = early.Kept.Time.Add(-time.Minute), records[3].Kept.Before
	early.Path = "earlier of the run"
	twice := TrendOf(append(slices.Clone(records[:3]), early, late))
	if len(twice.Points) != 4 || twice.Points[3].Path != late.Path || !reflect.DeepEqual(twice.Drifts, trend.Drifts) {
		t.Errorf("%+v", twice)
	}
	// One that was saved after a turn, without a reading, takes no place of one that has it.
	bare := late
	bare.Kept.After, bare.Path = nil, "without a reading"
	bare.Kept.Time = late.Kept.Time.Add(time.Minute)
	twice = TrendOf(append(slices.Clone(records[:3]), late, bare))
	if len(twice.Points) != 4 || twice.Points[3].Path != late.Path {
		t.Errorf("%+v", twice)
	}
	fixed := levelled(9, level, level)
	fixed.Kept.Corrects = records[0].Path
	if trend = TrendOf(append(records, fixed)); len(trend.Points) != 4 || trend.Points[2].Path != fixed.Path ||
		trend.Points[2].Before[2] != 0 {
		t.Errorf("%+v", trend.Points)
	}
	if trend = TrendOf(nil); trend.Points != nil || trend.Drifts != nil {
		t.Errorf("%+v", trend)
	}
	two := TrendOf(records[:2])
	if d := two.Drifts[0]; d.Real() || !math.IsNaN(float64(d.HalfWidth)) ||
		d.Mean != pressure.KPa(24.7-25-(24.7+24.7+25.9+24.7-100)/4) && math.Abs(float64(d.Mean)+0.3) > 1e-9 {
		t.Errorf("%+v", d)
	}
}

// A record without a zero pass has its sensors' zero errors in both of its readings: no drift to it, none from it.
func TestNoDriftWithoutAZero(t *testing.T) {
	t.Parallel()
	places := []float64{24.8, 24.8, 25.6, 24.8}
	records := []StoredSync{levelled(1, places, places), levelled(2, places, places), levelled(3, places, places),
		levelled(4, places, places)}
	records[1].Kept.Zero = nil
	trend := TrendOf(records)
	if len(trend.Points) != 4 || trend.Points[1].Zeroed || !trend.Points[2].Zeroed || trend.Drifts[2].Times != 1 {
		t.Errorf("%+v", trend)
	}
}

// NIST StRD univariate set NumAcc4 has the certified mean 10000000.2 and standard deviation 0.1 of
// 1001 values: 10000000.2, and 500 times each 10000000.1 and 10000000.3.
func TestDriftStatisticsAgainstNIST(t *testing.T) {
	t.Parallel()
	values := []float64{10000000.2}
	for range 500 {
		values = append(values, 10000000.1, 10000000.3)
	}
	d := driftOf(1, values)
	if math.Abs(float64(d.Mean)-10000000.2) > 1e-6 {
		t.Errorf("mean %v", d.Mean)
	}
	if got := float64(d.HalfWidth) * math.Sqrt(1001) / series.Student95(1000); math.Abs(got-0.1) > 1e-6 {
		t.Errorf("standard deviation %v", got)
	}
}
