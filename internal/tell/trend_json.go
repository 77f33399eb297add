package tell

import (
	"io"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// Trend prints a bike's records together: where the cylinders stood before and after
// each levelling, which one drifts, what the screws did.
func Trend(out io.Writer, t *garage.Trend, u pressure.Unit, asJSON bool) error {
	return show(out, asJSON, trendValue(t), trendLines(t, u))
}

func trendValue(t *garage.Trend) any {
	records, drifts, screws := []map[string]any{}, []map[string]any{}, []map[string]any{}
	for _, p := range t.Points {
		records = append(records, map[string]any{"file": p.Path, "time": plain.Stamp(p.Time),
			"before_kpa": numbers(p.Before), "after_kpa": numbers(p.After),
			"zeroed": p.Zeroed})
	}
	for i := range t.Drifts {
		d := &t.Drifts[i]
		drifts = append(drifts, map[string]any{"cylinder": d.Cylinder, "drift_kpa": plain.Number(d.Mean),
			"uncertainty_kpa": plain.Number(d.HalfWidth), "times": d.Times, "drifts": d.Real()})
	}
	for _, e := range t.Effects {
		screws = append(screws, map[string]any{"screw": e.Screw, "kpa_per_turn": numbers(e.KPaPerTurn),
			"factors": numbers(e.Factors)})
	}
	return map[string]any{"records": records, "drifts": drifts, "screws": screws}
}

// numbers are figures of which some may not be known.
func numbers[T ~float64](figures []T) (list []plain.Number) {
	for _, v := range figures {
		list = append(list, plain.Number(v))
	}
	return list
}
