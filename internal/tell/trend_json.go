package tell

import (
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"io"
)

// Trend prints a bike's records together: where the cylinders stood before and after
// each levelling, which one drifts, what the screws did.
func Trend(out io.Writer, t *garage.Trend, u pressure.Unit, asJSON bool) error {
	return show(out, asJSON, func() any { return trendValue(t) }, func() []string { return trendLines(t, u) })
}

func trendValue(t *garage.Trend) any {
	type drift struct {
		Cylinder  int            `json:"cylinder"`
		Mean      garage.NullKPa `json:"drift_kpa"`
		HalfWidth garage.NullKPa `json:"uncertainty_kpa"`
		Times     int            `json:"times"`
		Drifts    bool           `json:"drifts"`
	}
	type effect struct {
		Screw  string             `json:"screw"`
		Values []garage.NullFloat `json:"kpa_per_turn"`
	}
	type point struct {
		File   string           `json:"file"`
		Time   string           `json:"time"`
		Before []garage.NullKPa `json:"before_kpa"`
		After  []garage.NullKPa `json:"after_kpa"`
	}
	line := struct {
		Records []point  `json:"records"`
		Drifts  []drift  `json:"drifts"`
		Screws  []effect `json:"screws"`
	}{[]point{}, []drift{}, []effect{}}
	for _, p := range t.Points {
		q := point{File: p.Path, Time: plain.Stamp(p.Time)}
		for _, v := range p.Before {
			q.Before = append(q.Before, garage.NullKPa(v))
		}
		for _, v := range p.After {
			q.After = append(q.After, garage.NullKPa(v))
		}
		line.Records = append(line.Records, q)
	}
	for i := range t.Drifts {
		d := &t.Drifts[i]
		line.Drifts = append(line.Drifts, drift{d.Cylinder, garage.NullKPa(d.Mean), garage.NullKPa(d.HalfWidth),
			d.Times, d.Real()})
	}
	for _, e := range t.Effects {
		x := effect{Screw: e.Screw}
		for _, v := range e.KPaPerTurn {
			x.Values = append(x.Values, garage.NullFloat(v))
		}
		line.Screws = append(line.Screws, x)
	}
	return line
}
