package plot

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// dpi makes a drawing of 18 cm 1063 pixels wide, as wide as most phones. Chosen.
const dpi = 150

// pixels is the number of pixels in a point.
const pixels = dpi / 72.

// PNG writes the drawing as a picture at 150 dots an inch.
func (d *Drawing) PNG(w io.Writer) error {
	size := image.Rect(0, 0, int(math.Ceil(d.Width*pixels)), int(math.Ceil(d.Height*pixels)))
	to := image.NewRGBA(size)
	draw.Draw(to, size, image.White, image.Point{}, draw.Src)
	for _, i := range d.items {
		i.png(to)
	}
	return png.Encode(w, to)
}

func (p *path) png(to *image.RGBA) {
	switch {
	case p.width == 0:
		fill(to, p.colour, p.points)
	case p.dashed:
		for _, dash := range dashed(p.points) {
			fill(to, p.colour, stroked(dash, p.width)...)
		}
	default:
		fill(to, p.colour, stroked(p.points, p.width)...)
	}
}

// stroked returns the areas that make up a line: a bar for each stretch, a disc on each joint. All
// turn the same way, so that they add up to one area.
func stroked(points []Point, width float64) (areas [][]Point) {
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		if length == 0 {
			continue
		}
		x, y := width/2*(b.Y-a.Y)/length, width/2*(a.X-b.X)/length // across
		areas = append(areas, []Point{{a.X + x, a.Y + y}, {b.X + x, b.Y + y}, {b.X - x, b.Y - y}, {a.X - x, a.Y - y}})
		if i > 1 {
			areas = append(areas, polygon(a, width/2, discCorners, 0))
		}
	}
	return areas
}

// dashed cuts a line into dashes.
func dashed(points []Point) (cut [][]Point) {
	rest, gap := dashes[0], 0 // what is left of the dash or gap; which of the two
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		at := func(s float64) Point { return Point{a.X + (b.X-a.X)*s/length, a.Y + (b.Y-a.Y)*s/length} }
		for s := 0.; s < length; {
			to := min(s+rest, length)
			if gap == 0 {
				cut = append(cut, []Point{at(s), at(to)})
			}
			if rest -= to - s; rest <= 0 {
				gap = 1 - gap
				rest = dashes[gap]
			}
			s = to
		}
	}
	return cut
}

// fill fills areas that turn the same way as if they were one.
func fill(to *image.RGBA, colour color.RGBA, areas ...[]Point) {
	box := image.Rectangle{}
	for _, area := range areas {
		for _, p := range area {
			x, y := int(math.Floor(p.X*pixels)), int(math.Floor(p.Y*pixels))
			box = box.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	if box = box.Intersect(to.Bounds()); box.Empty() {
		return
	}
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	for _, area := range areas {
		for i, p := range area {
			x, y := float32(p.X*pixels-float64(box.Min.X)), float32(p.Y*pixels-float64(box.Min.Y))
			if i == 0 {
				z.MoveTo(x, y)
			} else {
				z.LineTo(x, y)
			}
		}
		z.ClosePath()
	}
	z.Draw(to, box, image.NewUniform(colour), image.Point{})
}

func (l *label) png(to *image.RGBA) {
	x := l.at.X - l.font.Width(l.text)*[...]float64{Start: 0, Middle: 0.5, End: 1}[l.anchor]
	letters := font.Drawer{Dst: to, Src: image.NewUniform(l.font.Colour), Face: l.font.face(),
		Dot: fixed.Point26_6{X: fixed.Int26_6(64 * x * pixels), Y: fixed.Int26_6(64 * l.at.Y * pixels)}}
	letters.DrawString(l.text)
}

// typefaces are those of the pictures, regular and bold.
var typefaces = sync.OnceValue(func() (t [2]*opentype.Font) {
	for i, ttf := range [][]byte{goregular.TTF, gobold.TTF} {
		var err error
		if t[i], err = opentype.Parse(ttf); err != nil {
			panic("plot: internal error: " + err.Error())
		}
	}
	return t
})

func (f Font) face() font.Face {
	typeface := typefaces()[0]
	if f.Bold {
		typeface = typefaces()[1]
	}
	face, err := opentype.NewFace(typeface, &opentype.FaceOptions{Size: f.Size, DPI: dpi})
	if err != nil {
		panic("plot: internal error: " + err.Error())
	}
	return face
}

// Width returns how wide a text is in a picture, in points. In SVG it is nearly that: the letters are the reader's own.
func (f Font) Width(text string) float64 {
	return float64(font.MeasureString(f.face(), text)) / 64 / pixels
}
