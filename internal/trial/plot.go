package trial

import (
	"image/color"
	"io"
	"slices"

	"evendraw/internal/plot"
	"evendraw/internal/pressure"
)

// Shares of the bikes that the plot's lines show.
const (
	plotLow  = 0.5
	plotHigh = 0.9
)

// Plot writes an SVG of the true spread against the engine's running time: the
// median, and the 90 % of the bikes, of both mechanics.
func Plot(w io.Writer, pairs []Pair) error {
	chart := plot.Chart{Title: "True spread while levelling, random practice bikes",
		Width: 18 * plot.Centimetre, Height: 11 * plot.Centimetre,
		X: plot.Axis{Label: "engine running, s"}, Y: plot.Axis{Label: "spread, kPa"}}
	chart.Name = chart.Title
	var ours, theirs [][]pressure.KPa
	for _, pair := range pairs {
		ours, theirs = append(ours, pair.Advised.Course), append(theirs, pair.Rival.Course)
	}
	for _, c := range []struct {
		name    string
		courses [][]pressure.KPa
		share   float64
		colour  color.RGBA
	}{
		{"with the advice, median", ours, plotLow, plot.Palette[0]},
		{"with the advice, 90 %", ours, plotHigh, plot.Palette[0]},
		{"damped gauges, median", theirs, plotLow, plot.Palette[1]},
		{"damped gauges, 90 %", theirs, plotHigh, plot.Palette[1]},
	} {
		chart.Add(plot.Series{Name: c.name, Points: course(c.courses, c.share), Colour: c.colour,
			Line: true, Dashed: c.share == plotHigh})
	}
	return chart.SVG(w)
}

// course returns, second by second, the spread that a share of the bikes is
// within. A bike that is finished stays where it ended.
func course(courses [][]pressure.KPa, share float64) []plot.Point {
	longest := 0
	for _, c := range courses {
		longest = max(longest, len(c))
	}
	var out []plot.Point
	for s := range longest {
		var now []float64
		for _, c := range courses {
			if len(c) > 0 {
				now = append(now, float64(c[min(s, len(c)-1)]))
			}
		}
		slices.Sort(now)
		out = append(out, plot.Point{X: float64(s + 1), Y: now[min(int(share*float64(len(now))), len(now)-1)]})
	}
	return out
}
