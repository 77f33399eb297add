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
	return show(out, asJSON, func() any { return trendValue(t) }, func() []string { return trendLines(t, u) })
}

func trendValue(t *garage.Trend) any {
	type drift struct {
		Cylinder  int          `json:"cylinder"`
		Mean      plain.Number `json:"drift_kpa"`
		HalfWidth plain.Number `json:"uncertainty_kpa"`
		Times     int          `json:"times"`
		Drifts    bool         `json:"drifts"`
	}
	type effect struct {
		Screw  string         `json:"screw"`
		Values []plain.Number `json:"kpa_per_turn"`
	}
	type point struct {
		File   string         `json:"file"`
		Time   string         `json:"time"`
		Before []plain.Number `json:"before_kpa"`
		After  []plain.Number `json:"after_kpa"`
	}
	line := struct {
		Records []point  `json:"records"`
		Drifts  []drift  `json:"drifts"`
		Screws  []effect `json:"screws"`
	}{[]point{}, []drift{}, []effect{}}
	for _, p := range t.Points {
		line.Records = append(line.Records, point{p.Path, plain.Stamp(p.Time), numbers(p.Before), numbers(p.After)})
	}
	for i := range t.Drifts {
		d := &t.Drifts[i]
		line.Drifts = append(line.Drifts, drift{d.Cylinder, plain.Number(d.Mean), plain.Number(d.HalfWidth), d.Times,
			d.Real()})
	}
	for _, e := range t.Effects {
		line.Screws = append(line.Screws, effect{e.Screw, numbers(e.KPaPerTurn)})
	}
	return line
}

// numbers are figures of which some may not be known.
func numbers[T ~float64](figures []T) (list []plain.Number) {
	for _, v := range figures {
		list = append(list, plain.Number(v))
	}
	return list
}
