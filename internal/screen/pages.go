package screen

import (
	"fmt"
	"math"
	"slices"

	"evendraw/internal/view"
	"evendraw/internal/waves"
)

// drawList draws the lines of a list that fit, around the chosen one.
func (c *Canvas) drawList(items []view.Item, top, rows int) {
	hand := max(slices.IndexFunc(items, func(it view.Item) bool { return it.InHand }), 0)
	first := min(max(hand-rows/2, 0), len(items)-rows)
	for i := range rows {
		it := items[first+i]
		sign, role := "  ", it.Role
		if it.InHand {
			sign, role = "▸ ", view.Strong
		}
		room := c.Width
		if more := hidden(i, rows, first, len(items)); more != "" {
			room = max(room-c.width(more)-1, 0)
			c.Text(c.Width-c.width(more), top+i, more, view.Dim)
		}
		c.Text(0, top+i, c.clip(sign+"["+it.Mark+"] "+it.Text, room), role)
	}
}

// hidden says beside the first and the last of a list's rows how many lines there are beyond them.
func hidden(row, rows, first, lines int) string {
	switch below := lines - first - rows; {
	case row == rows-1 && below > 0:
		return fmt.Sprintf("%d more below", below)
	case row == 0 && first > 0:
		return fmt.Sprintf("%d more above", first)
	}
	return ""
}

// narrowColumns are the columns of a table that go where it is too wide, in that order.
var narrowColumns = []int{5, 2, 3}

// paired is a table of channels with two in a row, what says least left out, for where all rows don't fit.
func (c *Canvas) paired(t *view.Table, rows int) *view.Table {
	p := &view.Table{Below: t.Below}
	if rows > len(t.Rows)/2 { // else the head gives way too
		p.Rows, p.Roles = [][]string{{"channel → cylinder", "counts  state"}}, []view.Role{view.Dim}
	}
	for i := 1; i < len(t.Rows); i += 2 {
		pair, role := []string{"", ""}, t.Roles[i]
		for k := range min(2, len(t.Rows)-i) {
			r := t.Rows[i+k]
			pair[k] = c.clip(r[0]+" → "+r[1]+"  "+r[4]+"  "+r[6], c.Width/2-1)
			if t.Roles[i+k] == view.Warn {
				role = view.Warn
			}
		}
		p.Rows, p.Roles = append(p.Rows, pair), append(p.Roles, role)
	}
	return p
}

// drawTable draws a table and the lines below it in at most rows rows.
func (c *Canvas) drawTable(t *view.Table, top, rows int) {
	const gap = 2
	if c.tableRows(t) > rows && len(t.Rows) > 2 {
		t = c.paired(t, rows)
	}
	widths := make([]int, len(t.Rows[0]))
	total := 0
	for i := range widths {
		for _, r := range t.Rows {
			widths[i] = max(widths[i], c.width(r[i])+gap)
		}
		total += widths[i]
	}
	for _, i := range narrowColumns {
		if total > c.Width && i < len(widths) {
			total -= widths[i]
			widths[i] = 0
		}
	}
	bottom := top + rows
	for i, r := range t.Rows {
		x := 0
		for k, cell := range r {
			if widths[k] > 0 && top < bottom {
				c.Text(x, top, c.clip(cell, c.Width-x), t.Roles[i])
			}
			x += widths[k]
		}
		top++
	}
	for _, t := range t.Below {
		lines := min(len(c.wrapped(t.Text, c.Width)), bottom-top)
		if lines <= 0 {
			return
		}
		c.drawWrapped(0, top, lines, t.Text, t.Role)
		top += lines
	}
}

// drawWaves draws a strip for each cylinder, with the crank's angle below.
func (c *Canvas) drawWaves(w *waves.Picture, top, bottom int) {
	for i, line := range c.wrapped(w.Say, c.Width) {
		if i < 2 {
			c.Text(0, top, line, view.Plain)
			top++
		}
	}
	if len(w.Strips) == 0 {
		return
	}
	left, wide := labelWidth, c.Width-labelWidth
	for _, m := range w.Marks {
		x := left + int(m.At*float64(wide))
		c.Text(x, bottom, "┴"+m.Text, view.Dim)
	}
	bottom--
	rows := (bottom - top + 1) / len(w.Strips)
	if rows == 0 {
		return
	}
	body := max(rows-1, 1) // a row between the strips, where there is room
	for i := range w.Strips {
		c.drawStrip(&w.Strips[i], left, top+i*rows+rows-body, wide, body)
	}
}

// strayRows is how many rows the last cycle must be off the mean to be marked. Chosen: less is scatter.
const strayRows = 0.75

// drawStrip draws a cylinder's mean as a hill, and the last cycle as marks where it is off by more than strayRows.
func (c *Canvas) drawStrip(s *waves.Strip, left, top, wide, rows int) {
	c.Text(0, top+rows-1, s.Label, view.Strong)
	bottom := top + rows - 1
	for x := range wide {
		at := float64(x) / float64(wide)
		mean, live := valueAt(s.Mean, at), valueAt(s.Live, at)
		c.drawHill(left+x, bottom, rows, mean, view.Plain)
		row := func(v float64) int { return min(int(v*float64(rows)), rows-1) }
		if math.Abs(live-mean)*float64(rows) > strayRows {
			c.Set(left+x, bottom-row(live), '•', view.Strong)
		}
	}
	if s.Fault != "" {
		c.Text(left+1, top, s.Fault, view.Bad)
	}
}

// valueAt returns the value at a share of a closed curve, straight between its points.
func valueAt(points []float64, at float64) float64 {
	x := at * float64(len(points))
	i := int(x)
	a, b := points[i%len(points)], points[(i+1)%len(points)]
	return a + (x-float64(i))*(b-a)
}
