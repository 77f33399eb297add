// Package plot draws plots, as SVG and as PNG.
//
// A Chart lays out axes, lines, marks and a legend on a Drawing: a list of lines, areas and texts, which one writer
// puts down as SVG and another as PNG. Lengths are in points (1/72 inch), places are counted from the top left corner.
package plot

import (
	"image"
	"image/color"

	"evendraw/internal/plain"
)

// Centimetre is the number of points in one.
const Centimetre = 72 / 2.54

// Palette is of Okabe and Ito's colours for colour-blind people (2008), values from memory.
var Palette = [4]color.RGBA{{0, 114, 178, 255}, {213, 94, 0, 255}, {0, 158, 115, 255}, {204, 121, 167, 255}}

// Colours beside the palette.
var (
	Black = color.RGBA{0, 0, 0, 255}
	Grey  = color.RGBA{110, 110, 110, 255}
	light = color.RGBA{215, 215, 215, 255}
)

// Point is a place on a drawing, in points, or in a chart, in the units of its axes.
type Point struct{ X, Y float64 }

// Anchor says which part of a text stands at its place.
type Anchor int

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Font is how a text looks; Size is in points.
type Font struct {
	Size   float64
	Bold   bool
	Colour color.RGBA
}

// Drawing is a list of lines, areas and texts on white, those added last on top.
type Drawing struct {
	Name          string // what it shows, for whoever can't see it
	Width, Height float64
	items         []item
}

// item is one thing on a drawing: a path or a label.
type item interface {
	svg() string
	png(to *image.RGBA)
}

// path is a line, or with width 0 the area within.
type path struct {
	points []Point
	width  float64
	dashed bool
	colour color.RGBA
}

// label is one line of text; at.Y is its baseline.
type label struct {
	at     Point
	anchor Anchor
	font   Font
	text   string
}

// Line draws a line of a width through points.
func (d *Drawing) Line(width float64, dashed bool, c color.RGBA, points ...Point) {
	d.items = append(d.items, &path{points, width, dashed, c})
}

// Area fills the area within points.
func (d *Drawing) Area(c color.RGBA, points ...Point) {
	d.items = append(d.items, &path{points: points, colour: c})
}

// Text writes one line of text on a baseline; what would steer a terminal or a page is left out (package plain).
func (d *Drawing) Text(at Point, a Anchor, f Font, text string) {
	if text != "" {
		d.items = append(d.items, &label{at, a, f, plain.Text(text)})
	}
}
