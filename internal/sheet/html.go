package sheet

import (
	_ "embed"
	"fmt"
	"html"
	"io"
	"strings"

	"evendraw/internal/plain"
	"evendraw/internal/plot"
	"evendraw/internal/tell"
)

//go:embed page.css
var pageCSS string

// markup is a page of HTML that is being written. It is not made by a template, because with one
// the linker keeps every exported method of the program: 3 MB (measured).
type markup struct{ strings.Builder }

// put writes a line of markup whose %s are texts, which are escaped.
func (m *markup) put(format string, texts ...string) {
	escaped := make([]any, len(texts))
	for i, text := range texts {
		escaped[i] = html.EscapeString(plain.Lines(text))
	}
	fmt.Fprintf(m, format+"\n", escaped...)
}

func (m *markup) chart(c *plot.Chart) {
	if c != nil {
		m.WriteString(c.Inline() + "\n")
	}
}

func (m *markup) table(heads []string, rows []row) {
	m.put(`<table><thead><tr><th></th>`)
	for _, head := range heads {
		m.put(`<th>%s</th>`, head)
	}
	m.put(`</tr></thead><tbody>`)
	for _, r := range rows {
		m.put(`<tr><td>%s</td>`, r.Name)
		for _, cell := range r.Cells {
			m.put(`<td>%s</td>`, cell)
		}
		m.put(`</tr>`)
	}
	m.put(`</tbody></table>`)
}

// list writes texts as list items.
func (m *markup) list(texts []string) {
	m.put("<ul>")
	for _, text := range texts {
		m.put(`<li>%s</li>`, text)
	}
	m.put("</ul>")
}

// HTML writes the page as HTML that needs no other file and no network.
func (p *Page) HTML(w io.Writer) error {
	lanes, steps, err := p.plots()
	if err != nil {
		return err
	}
	if steps != nil { // it stands in half of the page's width
		steps.Width, steps.Height = plotWidth/2, stepsHeight*4/5
	}
	m := &markup{}
	p.content().put(m, lanes, steps)
	_, err = io.WriteString(w, m.String())
	return err
}

// put puts the content in markup.
func (c *content) put(m *markup, lanes, steps *plot.Chart) {
	m.put(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">
<title>%s, %s</title>
<style>`, c.Bike, c.Date)
	m.WriteString(pageCSS)
	m.put("</style>\n</head>\n<body>")
	good := ""
	if c.Good {
		good = " good"
	}
	m.put(`<header><div><h1>%s</h1><p>Levelling of the carburettors, %s</p></div>`, c.Bike, c.Date)
	m.put(`<p class="verdict%s">%s</p></header>`, good, c.Verdict)
	m.put(`<p class="spread">%s</p>`, c.Spread)
	m.chart(lanes)
	m.put(`<section>`)
	if len(c.Cylinders) > 0 {
		m.table(c.Heads, c.Cylinders)
	}
	m.put(`</section>
<div class="two">
<section><h2>Conditions</h2><dl>`)
	for _, f := range c.Facts {
		m.put(`<dt>%s</dt><dd>%s</dd>`, f.Name, f.Text)
	}
	m.put("</dl></section>\n<section>")
	if len(c.Turns) > 0 {
		m.put(`<h2>Turned, as seen</h2>`)
		m.list(c.Turns)
	}
	m.chart(steps)
	m.put("</section>\n</div>")
	if len(c.Carburettors)+len(c.Pilots) > 0 {
		m.put(`<section><h2>Carburettors</h2>`)
		if len(c.Carburettors) > 0 {
			m.table(c.CarbHeads, c.Carburettors)
		}
		if len(c.Pilots) > 0 {
			m.list(c.Pilots)
		}
		m.put(`</section>`)
	}
	if c.Note != "" {
		m.put(`<section><h2>Remark</h2><p class="note">%s</p></section>`, c.Note)
	}
	m.put(`<footer>`)
	m.list(tell.SheetCautions)
	m.put("<p>%s</p></footer>\n</body>\n</html>", c.Foot)
}
