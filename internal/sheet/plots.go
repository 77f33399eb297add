package sheet

import (
	"fmt"
	"image/color"
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/plot"
	"evendraw/internal/pressure"
)

// Width and heights of the plots, in points.
const (
	plotWidth   = 18 * plot.Centimetre
	laneHeight  = 0.75 * plot.Centimetre
	trendHeight = 7 * plot.Centimetre
	stepsHeight = 5 * plot.Centimetre
)

// marks of the lines, by cylinder; each has a colour of the palette as well.
var marks = [len(plot.Palette)]plot.Mark{plot.Disc, plot.Square, plot.Triangle, plot.Cross}

// line is the line of a cylinder or screw, by number.
func line(i int, name string, points []plot.Point) plot.Series {
	i %= len(marks)
	return plot.Series{Name: name, Points: points, Colour: plot.Palette[i], Mark: marks[i], Line: true}
}

// TrendPlots draw where each cylinder stood before each levelling, and what a clockwise turn
// of each screw does, in the unit; the second is nil without any effect.
func TrendPlots(t *garage.Trend, u pressure.Unit) (places, effects *plot.Chart) {
	places = &plot.Chart{Title: "Before each levelling, against the mean of all cylinders", Y: plot.Axis{Label: u.Name}}
	cylinders := 0
	for _, p := range t.Points {
		cylinders = max(cylinders, len(p.Before))
	}
	for c := range cylinders {
		var points []plot.Point
		for _, p := range t.Points {
			if c < len(p.Before) && !math.IsNaN(float64(p.Before[c])) {
				points = append(points, plot.Point{X: float64(p.Time.Unix()), Y: u.From(p.Before[c])})
			}
		}
		places.Add(line(c, fmt.Sprintf("cylinder %d", c+1), points))
	}
	places.Add(notZeroed(t, u))
	if len(t.Effects) > 0 {
		effects = &plot.Chart{Title: "What a clockwise turn of each screw does",
			Y: plot.Axis{Label: u.Name + " per turn"}}
	}
	for i, e := range t.Effects {
		points := make([]plot.Point, len(e.Times))
		for k, at := range e.Times {
			points[k] = plot.Point{X: float64(at.Unix()), Y: u.From(pressure.KPa(e.KPaPerTurn[k]))}
		}
		effects.Add(line(i, "screw "+e.Screw, points))
	}
	for _, c := range []*plot.Chart{places, effects} {
		if c == nil {
			continue
		}
		c.Name, c.Width, c.Height = c.Title, plotWidth, trendHeight
		if len(t.Points) > 0 {
			c.X = dates(t.Points[0].Time, t.Points[len(t.Points)-1].Time)
		}
	}
	return places, effects
}

// notZeroed rings the points of records in which the sensors' own zero errors are.
func notZeroed(t *garage.Trend, u pressure.Unit) plot.Series {
	s := plot.Series{Name: "not zeroed", Colour: plot.Grey, Mark: plot.Halo}
	for _, p := range t.Points {
		for _, v := range p.Before {
			if !p.Zeroed && !math.IsNaN(float64(v)) {
				s.Points = append(s.Points, plot.Point{X: float64(p.Time.Unix()), Y: u.From(v)})
			}
		}
	}
	return s
}

// dates is an axis with at most five dates on it, none of them twice.
func dates(first, last time.Time) plot.Axis {
	days := int(last.Sub(first).Hours() / 24)
	step := max(1, (days+3)/4)
	a := plot.Axis{Min: float64(first.Unix()), Max: float64(last.Unix())}
	for day := first; !day.After(last); day = day.AddDate(0, 0, step) {
		a.Ticks = append(a.Ticks, plot.Tick{At: float64(day.Unix()), Name: day.Local().Format(time.DateOnly)})
	}
	return a
}

// LanesPlot draws a lane a cylinder: where it stood in one reading (open) and in another (filled), against the mean of
// all, in the unit. The first may be nil; without any cylinder there is nothing to draw, which is an error.
func LanesPlot(a, b *garage.RecordReading, nameA, nameB string, u pressure.Unit) (*plot.Chart, error) {
	placesA, placesB := garage.PlacesOf(a), garage.PlacesOf(b)
	n := max(len(placesA), len(placesB))
	if n == 0 {
		return nil, fmt.Errorf("no reading to draw")
	}
	c := &plot.Chart{Name: "each cylinder, " + nameA + " and " + nameB,
		Width: plotWidth, Height: laneHeight * float64(n+3),
		X: plot.Axis{Label: "← less vacuum · " + u.Name + " against the mean of all cylinders · more vacuum →"},
		Y: plot.Axis{Min: 0.5, Max: float64(n) + 0.5}}
	for i := range n {
		c.Y.Ticks = append(c.Y.Ticks, plot.Tick{At: float64(n - i), Name: fmt.Sprintf("cylinder %d", i+1)})
	}
	for _, set := range []struct {
		places []pressure.KPa
		name   string
		mark   plot.Mark
		colour color.RGBA
	}{{placesA, nameA, plot.Ring, plot.Grey}, {placesB, nameB, plot.Disc, plot.Palette[0]}} {
		var points []plot.Point
		for i, v := range set.places {
			if !math.IsNaN(float64(v)) {
				points = append(points, plot.Point{X: u.From(v), Y: float64(n - i)})
			}
		}
		c.Add(plot.Series{Name: set.name, Points: points, Colour: set.colour, Mark: set.mark})
	}
	c.X.Max = max(-c.X.Min, c.X.Max, u.From(1))
	c.X.Min = -c.X.Max
	return c, nil
}

// StepsPlot draws the spread before each turn that was told and seen, in their order, in the unit; nil when there are
// none.
func StepsPlot(r *garage.SyncRecord, u pressure.Unit) *plot.Chart {
	var points []plot.Point
	add := func(i int, v garage.NullKPa) {
		if !math.IsNaN(float64(v)) {
			points = append(points, plot.Point{X: float64(i), Y: u.From(pressure.KPa(v))})
		}
	}
	for i, s := range r.Steps {
		add(i, s.SpreadBeforeKPa)
	}
	if r.After != nil && len(points) > 0 {
		add(len(r.Steps), r.After.SpreadKPa)
	}
	if len(points) < 2 {
		return nil
	}
	c := &plot.Chart{Name: "spread over the turns", Width: plotWidth, Height: stepsHeight,
		X: plot.Axis{Label: "turns that were told and seen, one after the other", LeastStep: 1},
		Y: plot.Axis{Label: "spread, " + u.Name}}
	c.Add(line(0, "spread", points))
	limit := u.From(r.LimitKPa)
	c.Add(plot.Series{Name: "limit", Points: []plot.Point{{Y: limit}, {X: c.X.Max, Y: limit}},
		Colour: plot.Grey, Line: true, Dashed: true})
	return c
}
