package sheet

import (
	"io"
	"strings"

	"evendraw/internal/plot"
	"evendraw/internal/tell"
)

// Sizes of the picture for a phone, in points.
const (
	pictureMargin = 0.8 * plot.Centimetre
	pictureRoom   = plotWidth - 2*pictureMargin
	lineFactor    = 1.35
	paragraphGap  = 6
)

// Letters of the picture.
var (
	bodyFont    = plot.Font{Size: 12, Colour: plot.Black}
	boldFont    = plot.Font{Size: 12, Bold: true, Colour: plot.Black}
	smallFont   = plot.Font{Size: 9.5, Colour: plot.Black}
	greyFont    = plot.Font{Size: 9.5, Colour: plot.Grey}
	titleFont   = plot.Font{Size: 22, Bold: true, Colour: plot.Black}
	verdictFont = plot.Font{Size: 18, Bold: true, Colour: plot.Black}
)

// pen writes down a picture from the top, and makes it as long as it needs to be.
type pen struct{ plot.Drawing }

// line writes one line of text from x on, and stays there.
func (p *pen) line(x float64, f plot.Font, s string) {
	p.Text(plot.Point{X: x, Y: p.Height + f.Size}, plot.Start, f, s)
}

func (p *pen) down(f plot.Font) { p.Height += f.Size * lineFactor }

// wrapped writes text broken at spaces so that it fits.
func (p *pen) wrapped(f plot.Font, s string) {
	line := ""
	end := func() {
		p.line(pictureMargin, f, line)
		p.down(f)
		line = ""
	}
	for _, word := range strings.Fields(s) {
		for f.Width(word) > pictureRoom { // a word without end
			word = string([]rune(word)[:len([]rune(word))*3/4])
		}
		if line != "" && f.Width(line+" "+word) > pictureRoom {
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
	if len(heads) == 0 || len(rows) == 0 {
		return
	}
	cells := func(f plot.Font, cells []string) {
		for i, cell := range cells {
			p.line(pictureMargin+pictureRoom*float64(i+2)/float64(len(heads)+2), f, cell)
		}
		p.down(f)
	}
	cells(greyFont, heads)
	for _, r := range rows {
		p.line(pictureMargin, bodyFont, r.Name)
		cells(bodyFont, r.Cells)
	}
	p.Height += paragraphGap
}

// chart draws a plot in the width between the margins.
func (p *pen) chart(c *plot.Chart) {
	if c == nil {
		return
	}
	c.Width = pictureRoom
	c.Draw(&p.Drawing, plot.Point{X: pictureMargin, Y: p.Height})
	p.Height += c.Height + paragraphGap
}

// PNG writes the page as a picture for a phone, as long as it needs to be.
func (p *Page) PNG(w io.Writer) error {
	lanes, steps, err := p.plots()
	if err != nil {
		return err
	}
	picture := &pen{plot.Drawing{Width: plotWidth, Height: pictureMargin}}
	p.content().write(picture, lanes, steps)
	picture.Height += pictureMargin
	return picture.PNG(w)
}

// write puts the content down with a pen.
func (c *content) write(p *pen, lanes, steps *plot.Chart) {
	p.wrapped(titleFont, c.Bike)
	p.wrapped(bodyFont, "Levelling of the carburettors, "+c.Date)
	verdict := verdictFont
	if c.Good {
		verdict.Colour = plot.Palette[2]
	}
	p.wrapped(verdict, c.Verdict)
	p.wrapped(boldFont, c.Spread)
	p.Height += paragraphGap
	p.chart(lanes)
	p.table(c.Heads, c.Cylinders)
	for _, f := range c.Facts {
		p.wrapped(bodyFont, f.Name+": "+f.Text)
	}
	p.Height += paragraphGap
	if len(c.Turns) > 0 {
		p.wrapped(bodyFont, "Turned, as seen: "+strings.Join(c.Turns, "; "))
		p.Height += paragraphGap
	}
	p.chart(steps)
	p.table(c.CarbHeads, c.Carburettors)
	for _, line := range c.Pilots {
		p.wrapped(bodyFont, line)
	}
	if c.Note != "" {
		p.wrapped(bodyFont, "Remark: "+c.Note)
		p.Height += paragraphGap
	}
	for _, s := range tell.SheetCautions {
		p.wrapped(smallFont, s)
	}
	p.wrapped(greyFont, c.Foot)
}
