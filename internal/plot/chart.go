package plot

import (
	"image/color"
	"io"
	"math"
)

// Lengths and letters of a chart. Chosen.
const (
	lineWidth  = 1.2
	gridWidth  = 0.5
	markRadius = 4
	gap        = 5  // between words and what they are for
	keyWidth   = 18 // of a line in the legend
	rowHeight  = 13 // of the legend and of labels
	xTickRoom  = 40 // ticks at round numbers are at least that far apart
	yTickRoom  = 20
	wider      = 1.2 // letters of a reader's own may be so much wider than those of pictures
)

var (
	words = Font{Size: 9, Colour: Black}
	title = Font{Size: 11, Bold: true, Colour: Black}
)

// Mark is the shape that stands on the points of a series.
type Mark int

// The marks.
const (
	NoMark Mark = iota
	Disc
	Square
	Triangle
	Cross
	Ring
	Halo // a ring around the mark of another series
)

// haloRadii is how many radii of a mark a halo has. Chosen: a gap is seen between them.
const haloRadii = 1.75

// Series are points of one kind: marked, joined by a line, or both. Points go from left to right.
type Series struct {
	Name         string // in the legend
	Points       []Point
	Colour       color.RGBA
	Mark         Mark
	Line, Dashed bool
}

// Chart is a plot with two axes, its Title above and a legend of its series.
type Chart struct {
	Name          string // what it shows, for whoever can't see it
	Title         string
	Width, Height float64 // in points
	X, Y          Axis
	series        []Series
}

// Add adds a series, if it has points, and widens the axes to hold it.
func (c *Chart) Add(s Series) {
	if len(s.Points) == 0 {
		return
	}
	c.series = append(c.series, s)
	for _, p := range s.Points {
		c.X.hold(p.X)
		c.Y.hold(p.Y)
	}
}

// SVG writes the chart as a file of SVG.
func (c *Chart) SVG(w io.Writer) error { return c.drawing().SVG(w) }

// PNG writes the chart as a picture.
func (c *Chart) PNG(w io.Writer) error { return c.drawing().PNG(w) }

// Inline returns the chart as SVG that stands in a page of HTML.
func (c *Chart) Inline() string { return c.drawing().Inline() }

func (c *Chart) drawing() *Drawing {
	d := &Drawing{Name: c.Name, Width: c.Width, Height: c.Height}
	c.Draw(d, Point{})
	return d
}

// Draw draws the chart on a drawing, its top left corner at a place.
func (c *Chart) Draw(d *Drawing, at Point) {
	x, y := c.X.ready(c.Width/xTickRoom), c.Y.ready(c.Height/yTickRoom)
	f := frame{x: x, y: y, left: at.X + wider*y.widest() + gap,
		right: at.X + c.Width - max(wider*x.widest()/2, markRadius),
		top:   at.Y, bottom: at.Y + c.Height - rowHeight - gap}
	if x.Label != "" {
		f.bottom -= rowHeight
	}
	if c.Title != "" {
		f.top += rowHeight
		d.Text(Point{at.X, f.top - 2}, Start, title, c.Title)
	}
	f.top = c.legend(d, Point{at.X, f.top}, at.X+c.Width) + markRadius
	f.drawAxes(d)
	for _, s := range c.series {
		places := make([]Point, len(s.Points))
		for i, p := range s.Points {
			places[i] = f.place(p)
		}
		s.drawLine(d, places)
		for _, at := range places {
			s.Mark.draw(d, at, s.Colour)
		}
	}
}

// legend writes the y axis's label and the names of the series in rows, and returns where they end.
func (c *Chart) legend(d *Drawing, at Point, right float64) (bottom float64) {
	x, y := at.X, at.Y+rowHeight
	d.Text(Point{x, y - 3}, Start, words, c.Y.Label)
	if c.Y.Label != "" {
		x += wider*words.Width(c.Y.Label) + 3*gap
	}
	for _, s := range c.series {
		width := keyWidth + gap + wider*words.Width(s.Name)
		if x > at.X && x+width > right {
			x, y = at.X, y+rowHeight
		}
		s.drawLine(d, []Point{{x, y - 6}, {x + keyWidth, y - 6}})
		s.Mark.draw(d, Point{x + keyWidth/2, y - 6}, s.Colour)
		d.Text(Point{x + keyWidth + gap, y - 3}, Start, words, s.Name)
		x += width + 3*gap
	}
	return y
}

// drawLine draws the series' line, if it has one, through places on a drawing.
func (s *Series) drawLine(d *Drawing, places []Point) {
	if s.Line {
		d.Line(lineWidth, s.Dashed, s.Colour, places...)
	}
}

// discCorners are enough for a disc to look round: 0.1 pixels off.
const discCorners = 24

// draw draws a mark around a place.
func (m Mark) draw(d *Drawing, at Point, c color.RGBA) {
	const r = markRadius
	switch m {
	case Disc:
		d.Area(c, polygon(at, r, discCorners, 0)...)
	case Square:
		d.Area(c, polygon(at, 1.25*r, 4, math.Pi/4)...)
	case Triangle:
		d.Area(c, polygon(at, 1.4*r, 3, -math.Pi/2)...)
	case Cross:
		d.Line(lineWidth, false, c, Point{at.X - r, at.Y - r}, Point{at.X + r, at.Y + r})
		d.Line(lineWidth, false, c, Point{at.X - r, at.Y + r}, Point{at.X + r, at.Y - r})
	case Ring, Halo:
		radius := float64(r)
		if m == Halo {
			radius = haloRadii * r
		}
		ring := polygon(at, radius, discCorners, 0)
		d.Line(lineWidth, false, c, append(ring, ring[0])...)
	}
}

// polygon returns the corners of a regular one, the first at an angle from the right.
func polygon(at Point, radius float64, corners int, angle float64) []Point {
	p := make([]Point, corners)
	for i := range p {
		sin, cos := math.Sincos(angle + 2*math.Pi*float64(i)/float64(corners))
		p[i] = Point{at.X + radius*cos, at.Y + radius*sin}
	}
	return p
}
