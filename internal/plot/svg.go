package plot

import (
	"fmt"
	"html"
	"image/color"
	"io"
	"strings"
)

// dashes are the lengths of a dash and of the gap behind it.
var dashes = [2]float64{4, 3}

// SVG writes the drawing as a file of SVG.
func (d *Drawing) SVG(w io.Writer) error {
	_, err := io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"+d.Inline()+"\n")
	return err
}

// Inline returns the drawing as SVG that stands in a page of HTML.
func (d *Drawing) Inline() string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="%s" width="%.2fpt" height="%.2fpt"`+
		` viewBox="0 0 %[2]g %[3]g" font-family="Liberation Sans, Arial, Helvetica, sans-serif" fill="none">`+"\n",
		html.EscapeString(d.Name), d.Width, d.Height)
	b.WriteString(`<rect width="100%" height="100%" fill="#ffffff"/>` + "\n")
	for _, i := range d.items {
		b.WriteString(i.svg() + "\n")
	}
	b.WriteString("</svg>")
	return b.String()
}

func (p *path) svg() string {
	var b strings.Builder
	for i, at := range p.points {
		fmt.Fprintf(&b, "%c%.2f %.2f", "ML"[min(i, 1)], at.X, at.Y)
	}
	if p.width == 0 {
		return fmt.Sprintf(`<path d="%sZ" fill="%s"/>`, &b, hex(p.colour))
	}
	dash := ""
	if p.dashed {
		dash = fmt.Sprintf(` stroke-dasharray="%g %g"`, dashes[0], dashes[1])
	}
	return fmt.Sprintf(`<path d="%s" stroke="%s" stroke-width="%g" stroke-linejoin="round"%s/>`,
		&b, hex(p.colour), p.width, dash)
}

func (l *label) svg() string {
	more := [...]string{Start: "", Middle: ` text-anchor="middle"`, End: ` text-anchor="end"`}[l.anchor]
	if l.font.Bold {
		more += ` font-weight="bold"`
	}
	return fmt.Sprintf(`<text x="%.2f" y="%.2f" font-size="%g" fill="%s"%s>%s</text>`,
		l.at.X, l.at.Y, l.font.Size, hex(l.font.Colour), more, html.EscapeString(l.text))
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
