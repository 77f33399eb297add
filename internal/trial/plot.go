package trial

import (
	"image/color"
	"io"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"evendraw/internal/pressure"
)

// Size of the plot, and the shares of the bikes that its lines show.
const (
	plotWidth  = 18 * vg.Centimeter
	plotHeight = 11 * vg.Centimeter
	plotRoom   = 1.04 // beyond the last second
	plotLow    = 0.5
	plotHigh   = 0.9
)

// Colours of Okabe and Ito's palette for colour-blind people (2008), values from
// memory.
var (
	advisedColour = color.RGBA{0, 114, 178, 255}
	rivalColour   = color.RGBA{213, 94, 0, 255}
)

// Plot writes an SVG of the true spread against the engine's running time: the
// median, and the 90 % of the bikes, of both mechanics.
func Plot(w io.Writer, pairs []Pair) error {
	p := plot.New()
	p.Title.Text = "True spread while levelling, random practice bikes"
	p.X.Label.Text = "engine running, s"
	p.Y.Label.Text = "spread, kPa"
	p.Y.Min = 0
	p.Legend.Top = true
	// Words after their lines: letters may be drawn wider than they are measured.
	p.Legend.Left, p.Legend.XOffs = true, plotWidth/2
	var ours, theirs [][]pressure.KPa
	for _, pair := range pairs {
		ours, theirs = append(ours, pair.Advised.Course), append(theirs, pair.Rival.Course)
	}
	for _, c := range []struct {
		name    string
		courses [][]pressure.KPa
		share   float64
		colour  color.Color
		dashed  bool
	}{
		{"with the advice, median", ours, plotLow, advisedColour, false},
		{"with the advice, 90 %", ours, plotHigh, advisedColour, true},
		{"damped gauges, median", theirs, plotLow, rivalColour, false},
		{"damped gauges, 90 %", theirs, plotHigh, rivalColour, true},
	} {
		line, err := plotter.NewLine(course(c.courses, c.share))
		if err != nil {
			return err
		}
		line.Color = c.colour
		if c.dashed {
			line.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
		}
		p.Add(line)
		p.X.Max = max(p.X.Max, plotRoom*float64(len(line.XYs)))
		p.Legend.Add(c.name, line)
	}
	svg, err := p.WriterTo(plotWidth, plotHeight, "svg")
	if err != nil {
		return err
	}
	_, err = svg.WriteTo(w)
	return err
}

// course returns, second by second, the spread that a share of the bikes is
// within. A bike that is finished stays where it ended.
func course(courses [][]pressure.KPa, share float64) plotter.XYs {
	longest := 0
	for _, c := range courses {
		longest = max(longest, len(c))
	}
	var out plotter.XYs
	for s := range longest {
		var now []float64
		for _, c := range courses {
			if len(c) > 0 {
				now = append(now, float64(c[min(s, len(c)-1)]))
			}
		}
		slices.Sort(now)
		out = append(out, plotter.XY{X: float64(s + 1), Y: now[min(int(share*float64(len(now))), len(now)-1)]})
	}
	return out
}
