package sheet

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
)

// Plot is a drawing that can be written in several forms.
type Plot struct {
	draw          func(c draw.Canvas)
	width, height vg.Length
}

// SVG writes the plot as SVG.
func (p *Plot) SVG(w io.Writer) error {
	c := vgsvg.New(p.width, p.height)
	p.draw(draw.New(c))
	_, err := c.WriteTo(w)
	return err
}

// pngDPI makes an 18 cm plot 1063 pixels wide, as wide as most phones. Chosen.
const pngDPI = 150

// PNG writes the plot as PNG.
func (p *Plot) PNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(p.width, p.height), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(color.White))
	p.draw(draw.New(c))
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// inline returns the plot's SVG to stand in a page: without what is only for a file of
// its own, and with a role and a name for who can't see it.
func (p *Plot) inline(name string) (string, error) {
	var b bytes.Buffer
	if err := p.SVG(&b); err != nil {
		return "", err
	}
	at := bytes.Index(b.Bytes(), []byte("<svg "))
	if at < 0 {
		return "", fmt.Errorf("sheet: internal error: no svg in the plot")
	}
	return fmt.Sprintf("<svg role=\"img\" aria-label=%q ", name) + string(b.Bytes()[at+len("<svg "):]), nil
}

// Widths and heights of the plots.
const (
	plotWidth   = 18 * vg.Centimeter
	laneHeight  = 0.75 * vg.Centimeter
	trendHeight = 7 * vg.Centimeter
	stepsHeight = 5 * vg.Centimeter
	// legendRoom is the part of an axis that is kept free for the legend.
	legendRoom = 0.18
)

// colours of Okabe and Ito's palette for colour-blind people (2008), values from memory, by
// cylinder. Every line has a mark of its own as well.
var colours = []color.RGBA{{0, 114, 178, 255}, {213, 94, 0, 255}, {0, 158, 115, 255}, {204, 121, 167, 255}}

var marks = []draw.GlyphDrawer{draw.CircleGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}, draw.CrossGlyph{}}

var grey = color.RGBA{110, 110, 110, 255}

// newPlot returns an empty plot in the sheet's letters.
func newPlot(title, y string) *plot.Plot {
	p := plot.New()
	sans := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(9)}
	p.Title.Text, p.Y.Label.Text = title, y
	p.Title.TextStyle.Font, p.Title.TextStyle.Font.Size = sans, vg.Points(11)
	for _, f := range []*font.Font{&p.X.Label.TextStyle.Font, &p.Y.Label.TextStyle.Font, &p.X.Tick.Label.Font, &p.Y.Tick.Label.Font, &p.Legend.TextStyle.Font} {
		*f = sans
	}
	p.Legend.Top, p.Legend.Padding = true, vg.Points(2)
	return p
}

// TrendPlots draw where each cylinder stood before each levelling, and what the screws
// do, in the unit; the second is nil without any effect.
func TrendPlots(t *garage.Trend, u pressure.Unit) (places, effects *Plot, err error) {
	p := newPlot("Before each levelling, against the mean of all cylinders", u.Name)
	byTime(p)
	cylinders := 0
	for _, pt := range t.Points {
		cylinders = max(cylinders, len(pt.Before))
	}
	for c := range min(cylinders, len(colours)) {
		var xy plotter.XYs
		for _, pt := range t.Points {
			if c < len(pt.Before) && !math.IsNaN(float64(pt.Before[c])) {
				xy = append(xy, plotter.XY{X: float64(pt.Time.Unix()), Y: u.From(pt.Before[c])})
			}
		}
		if err := addLine(p, xy, c, fmt.Sprintf("cylinder %d", c+1)); err != nil {
			return nil, nil, err
		}
	}
	p.X.Max += legendRoom * (p.X.Max - p.X.Min)
	places = of(p, trendHeight)
	if len(t.Effects) == 0 {
		return places, nil, nil
	}
	p = newPlot("What a clockwise turn of each screw does", u.Name+" per turn")
	byTime(p)
	for i, e := range t.Effects {
		var xy plotter.XYs
		for k, at := range e.Times {
			xy = append(xy, plotter.XY{X: float64(at.Unix()), Y: u.From(pressure.KPa(e.KPaPerTurn[k]))})
		}
		if err := addLine(p, xy, i%len(colours), "screw "+e.Screw); err != nil {
			return nil, nil, err
		}
	}
	p.X.Max += legendRoom * (p.X.Max - p.X.Min)
	return places, of(p, trendHeight), nil
}

// byTime makes the x axis one of dates.
func byTime(p *plot.Plot) {
	p.X.Tick.Marker = plot.TimeTicks{Format: "2006-01-02", Ticker: fewTicks{}}
	p.Add(plotter.NewGrid())
}

// fewTicks are at most four ticks, the last well before the end, where its date would
// not fit.
type fewTicks struct{}

// Ticks returns the ticks of an axis.
func (fewTicks) Ticks(low, high float64) (ticks []plot.Tick) {
	const n = 4
	if high-low < n*86400 { // no date twice
		return []plot.Tick{{Value: (low + high) / 2, Label: "x"}}
	}
	for i := range n {
		ticks = append(ticks, plot.Tick{Value: low + (high-low)*float64(i)/n, Label: "x"})
	}
	return ticks
}

func addLine(p *plot.Plot, xy plotter.XYs, i int, name string) error {
	if len(xy) == 0 {
		return nil
	}
	line, points, err := plotter.NewLinePoints(xy)
	if err != nil {
		return err
	}
	line.Color, points.Color, points.Shape, points.Radius = colours[i], colours[i], marks[i], vg.Points(3)
	p.Add(line, points)
	p.Legend.Add(name, line, points)
	p.Y.Min, p.Y.Max = min(p.Y.Min, 0), max(p.Y.Max, 0)
	return nil
}

func of(p *plot.Plot, height vg.Length) *Plot { return &Plot{p.Draw, plotWidth, height} }

// LanesPlot draws a lane a cylinder: where it stood in one reading (open) and in another
// (filled), against the mean of all, in the unit. The first may be nil.
func LanesPlot(a, b *garage.RecordReading, nameA, nameB string, u pressure.Unit) (*Plot, error) {
	placesA, placesB := garage.PlacesOf(a), garage.PlacesOf(b)
	n := max(len(placesA), len(placesB))
	if n == 0 {
		return nil, fmt.Errorf("sheet: no reading to draw")
	}
	p := newPlot("", "")
	p.X.Label.Text = "less vacuum  <   " + u.Name + " against the mean of all cylinders   >  more vacuum"
	p.Y.Min, p.Y.Max = 0.5, float64(n)+1.5 // the legend stands over the lanes
	var names []plot.Tick
	for c := range n {
		names = append(names, plot.Tick{Value: float64(n - c), Label: fmt.Sprintf("cylinder %d", c+1)})
	}
	p.Y.Tick.Marker = plot.ConstantTicks(names)
	p.Add(plotter.NewGrid())
	for _, set := range []struct {
		places []pressure.KPa
		name   string
		shape  draw.GlyphDrawer
		colour color.RGBA
	}{{placesA, nameA, draw.RingGlyph{}, grey}, {placesB, nameB, draw.CircleGlyph{}, colours[0]}} {
		var xy plotter.XYs
		for c, v := range set.places {
			if !math.IsNaN(float64(v)) {
				xy = append(xy, plotter.XY{X: u.From(v), Y: float64(n - c)})
			}
		}
		if len(xy) == 0 {
			continue
		}
		points, err := plotter.NewScatter(xy)
		if err != nil {
			return nil, err
		}
		points.Shape, points.Color, points.Radius = set.shape, set.colour, vg.Points(5)
		p.Add(points)
		p.Legend.Add(set.name, points)
	}
	most := max(math.Abs(p.X.Min), math.Abs(p.X.Max), u.From(1))
	p.X.Min, p.X.Max = -1.1*most, 1.1*most
	return of(p, laneHeight*vg.Length(n+1)+1.5*vg.Centimeter), nil
}

// StepsPlot draws the spread over the turns that were made, in the unit; nil when there are
// none.
func StepsPlot(r *garage.SyncRecord, u pressure.Unit) (*Plot, error) {
	var xy plotter.XYs
	for i, s := range r.Steps {
		if v := float64(s.SpreadBeforeKPa); !math.IsNaN(v) {
			xy = append(xy, plotter.XY{X: float64(i), Y: u.From(pressure.KPa(v))})
		}
	}
	if r.After != nil && len(xy) > 0 && !math.IsNaN(float64(r.After.SpreadKPa)) {
		xy = append(xy, plotter.XY{X: float64(len(r.Steps)), Y: u.From(pressure.KPa(r.After.SpreadKPa))})
	}
	if len(xy) < 2 {
		return nil, nil
	}
	p := newPlot("", "spread, "+u.Name)
	p.X.Label.Text = "adjustments made"
	p.Add(plotter.NewGrid())
	if err := addLine(p, xy, 0, "spread"); err != nil {
		return nil, err
	}
	limit := plotter.NewFunction(func(float64) float64 { return u.From(r.LimitKPa) })
	limit.Color, limit.Dashes = grey, []vg.Length{vg.Points(4), vg.Points(3)}
	p.Add(limit)
	p.Legend.Add("limit", limit)
	p.Y.Max = (1 + legendRoom) * max(p.Y.Max, u.From(r.LimitKPa))
	p.X.Tick.Marker = wholeTicks{}
	return of(p, stepsHeight), nil
}

// wholeTicks are ticks at whole numbers, at most twelve of them.
type wholeTicks struct{}

// Ticks returns the ticks of an axis.
func (wholeTicks) Ticks(low, high float64) (ticks []plot.Tick) {
	step := max(1, math.Ceil((high-low)/12))
	for v := math.Ceil(low); v <= high; v += step {
		ticks = append(ticks, plot.Tick{Value: v, Label: fmt.Sprintf("%.0f", v)})
	}
	return ticks
}
