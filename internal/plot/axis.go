package plot

import (
	"image/color"
	"math"
	"strconv"
	"strings"
)

// Axis is what one of a chart's axes shows. The zero Axis begins with 0 alone.
type Axis struct {
	Label    string // with the unit
	Min, Max float64
	// Ticks are the ticks; nil are some at round numbers.
	Ticks []Tick
	// LeastStep is the least distance of ticks at round numbers.
	LeastStep float64
}

// Tick is a named place on an axis.
type Tick struct {
	At   float64
	Name string
}

// hold widens the axis to hold v.
func (a *Axis) hold(v float64) { a.Min, a.Max = min(a.Min, v), max(a.Max, v) }

// ready returns the axis with some width and with ticks, about so many if they are made here.
func (a Axis) ready(most float64) Axis {
	if a.Max <= a.Min {
		a.Min, a.Max = a.Min-1, a.Min+1
	}
	if a.Ticks == nil {
		a.Ticks = roundTicks(a.Min, a.Max, max(a.LeastStep, (a.Max-a.Min)/most))
	}
	return a
}

// roundTicks returns ticks at multiples of 1, 2 or 5 times a power of ten, at least a step apart.
func roundTicks(low, high, step float64) (ticks []Tick) {
	const slack = 1e-9 // of a step, for sums that are not exact
	power := math.Floor(math.Log10(step) + slack)
	for _, times := range []float64{1, 2, 5, 10} {
		if s := times * math.Pow(10, power); s >= step*(1-slack) {
			step = s
			break
		}
	}
	digits := max(0, -int(math.Floor(math.Log10(step)+slack)))
	for i := int(math.Ceil(low/step - slack)); float64(i)*step <= high+slack*step; i++ {
		v := float64(i) * step
		ticks = append(ticks, Tick{v, strings.Replace(strconv.FormatFloat(v, 'f', digits, 64), "-", "−", 1)})
	}
	return ticks
}

// widest returns the width of the widest name of a tick.
func (a *Axis) widest() (width float64) {
	for _, t := range a.Ticks {
		width = max(width, words.Width(t.Name))
	}
	return width
}

// share returns how far along the axis v is, 0 at Min and 1 at Max.
func (a *Axis) share(v float64) float64 { return (v - a.Min) / (a.Max - a.Min) }

// frame is the part of a drawing in which a chart's points lie.
type frame struct {
	x, y                     Axis
	left, right, top, bottom float64
}

// place returns where a point lies on the drawing. Marks at the ends keep off the axes.
func (f *frame) place(p Point) Point {
	left, right, top, bottom := f.left+2*markRadius, f.right-2*markRadius, f.top+markRadius, f.bottom-2*markRadius
	return Point{left + (right-left)*f.x.share(p.X), bottom + (top-bottom)*f.y.share(p.Y)}
}

// drawAxes draws axes, grid, ticks and their names. The grid's lines at 0 are darker.
func (f *frame) drawAxes(d *Drawing) {
	for _, t := range f.x.Ticks {
		x := f.place(Point{X: t.At}).X
		d.Line(gridWidth, false, gridColour(t), Point{x, f.top}, Point{x, f.bottom + 3})
		d.Text(Point{x, f.bottom + rowHeight}, Middle, words, t.Name)
	}
	for _, t := range f.y.Ticks {
		y := f.place(Point{Y: t.At}).Y
		d.Line(gridWidth, false, gridColour(t), Point{f.left - 3, y}, Point{f.right, y})
		d.Text(Point{f.left - gap, y + words.Size/3}, End, words, t.Name)
	}
	d.Text(Point{(f.left + f.right) / 2, f.bottom + 2*rowHeight}, Middle, words, f.x.Label)
	d.Line(gridWidth, false, Black, Point{f.left, f.top}, Point{f.left, f.bottom}, Point{f.right, f.bottom})
}

func gridColour(t Tick) color.RGBA {
	if t.At == 0 {
		return Grey
	}
	return light
}
