package sheet

import (
	"image/color"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Sizes of the picture for a phone: its width at pngDPI is 1063 pixels.
const (
	pictureMargin = 0.8 * vg.Centimeter
	bodySize      = 12 // points
	smallSize     = 9.5
	titleSize     = 22
	verdictSize   = 18
	lineFactor    = 1.35
)

// pen writes down a canvas from the top. With no canvas it only measures.
type pen struct {
	c   *draw.Canvas
	y   vg.Length // from the top
	top vg.Length
}

func style(size float64, bold bool, c color.Color) text.Style {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(size)}
	if bold {
		f.Weight = 3 // bold, of golang.org/x/image/font
	}
	return text.Style{Color: c, Font: f, Handler: plot.DefaultTextHandler, YAlign: draw.YTop}
}

// line writes one line of text from x on.
func (p *pen) line(x vg.Length, size float64, bold bool, c color.Color, s string) {
	if p.c != nil {
		p.c.FillText(style(size, bold, c), vg.Point{X: x, Y: p.top - p.y}, s)
	}
}

func (p *pen) down(size float64) { p.y += vg.Points(size * lineFactor) }

// wrapped writes text broken at spaces so that it fits.
func (p *pen) wrapped(size float64, bold bool, c color.Color, s string) {
	st := style(size, bold, c)
	room := plotWidth - 2*pictureMargin
	line := ""
	end := func() {
		p.line(pictureMargin, size, bold, c, line)
		p.down(size)
		line = ""
	}
	for _, word := range strings.Fields(s) {
		for st.Width(word) > room && len([]rune(word)) > 1 { // a word without end
			word = string([]rune(word)[:len([]rune(word))*3/4])
		}
		if line != "" && st.Width(line+" "+word) > room {
			end()
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		end()
	}
}

// table writes rows in columns; the first column is twice as wide.
func (p *pen) table(heads []string, rows []row) {
	n := len(heads)
	if n == 0 || len(rows) == 0 {
		return
	}
	width := (plotWidth - 2*pictureMargin) / vg.Length(n+2)
	at := func(i int) vg.Length { return pictureMargin + width*vg.Length(i+2) }
	for i, h := range heads {
		p.line(at(i), smallSize, false, grey, h)
	}
	p.down(smallSize)
	for _, r := range rows {
		p.line(pictureMargin, bodySize, false, color.Black, r.Name)
		for i, cell := range r.Cells {
			p.line(at(i), bodySize, false, color.Black, cell)
		}
		p.down(bodySize)
	}
	p.down(smallSize / 2)
}

// plot draws a plot in its place.
func (p *pen) plot(pl *Plot) {
	if pl == nil {
		return
	}
	if p.c != nil {
		sub := draw.Canvas{Canvas: p.c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: pictureMargin / 2, Y: p.top - p.y - pl.height}, Max: vg.Point{X: plotWidth - pictureMargin/2, Y: p.top - p.y}}}
		pl.draw(sub)
	}
	p.y += pl.height
	p.down(smallSize / 2)
}

// PNG writes the page as a picture for a phone, as long as it needs to be.
func (p *Page) PNG(w io.Writer) error {
	lanes, steps, err := p.plots()
	if err != nil {
		return err
	}
	c := p.content()
	measure := &pen{}
	c.write(measure, lanes, steps)
	height := measure.y + pictureMargin
	img := vgimg.NewWith(vgimg.UseWH(plotWidth, height), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(color.White))
	canvas := draw.New(img)
	c.write(&pen{c: &canvas, top: height}, lanes, steps)
	_, err = vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

// write puts the content down with a pen.
func (c *content) write(p *pen, lanes, steps *Plot) {
	p.y = pictureMargin
	p.wrapped(titleSize, true, color.Black, c.Bike)
	p.wrapped(bodySize, false, color.Black, "Carburettors levelled "+c.Date)
	verdict := color.Color(color.Black)
	if c.Good {
		verdict = colours[2]
	}
	p.wrapped(verdictSize, true, verdict, c.Verdict)
	p.wrapped(bodySize, true, color.Black, c.Spread)
	p.down(smallSize / 2)
	p.plot(lanes)
	p.table(c.Heads, c.Cylinders)
	for _, f := range c.Facts {
		p.wrapped(bodySize, false, color.Black, f.Name+": "+f.Text)
	}
	p.down(smallSize / 2)
	if len(c.Turns) > 0 {
		p.wrapped(bodySize, false, color.Black, "Adjustments made: "+strings.Join(c.Turns, "; "))
		p.down(smallSize / 2)
	}
	p.plot(steps)
	p.table(c.CarbHeads, c.Carburettors)
	if c.Note != "" {
		p.wrapped(bodySize, false, color.Black, "Remark: "+c.Note)
		p.down(smallSize / 2)
	}
	for _, s := range c.Cautions {
		p.wrapped(smallSize, false, color.Black, s)
	}
	p.wrapped(smallSize, false, grey, c.Foot)
}
