package screen

import (
	"math"
	"unicode/utf8"

	"evendraw/internal/view"
)

// Sizes of the parts of the screen.
const (
	bigRows = 5
	// labelWidth, drawWidth and diffWidth are the columns of a lane's texts.
	labelWidth = 3
	drawWidth  = 7
	diffWidth  = 14
	// smallWidth and smallHeight are the least that is drawn with lanes.
	smallWidth, smallHeight = 40, 12
)

// Draw fills the canvas with the view. It reads the view only.
func Draw(c *Canvas, v *view.View) {
	c.Clear()
	p := v.Picture()
	switch {
	case c.Width < smallWidth || c.Height < smallHeight:
		drawTiny(c, &p)
	case p.Help != nil:
		drawHelp(c, &p)
	default:
		drawAll(c, &p)
	}
}

// drawTiny shows the words of the advice alone.
func drawTiny(c *Canvas, p *view.Picture) {
	text := p.Big
	if p.Arrow != 0 {
		text += " " + arrowWord(p.Arrow)
	}
	if p.Amount != "" {
		text += " " + p.Amount
	}
	wrap(c, 0, 0, c.Height, text, p.Role)
}

func arrowWord(a int) string {
	if a > 0 {
		return "clockwise"
	}
	return "anticlockwise"
}

func drawHelp(c *Canvas, p *view.Picture) {
	y := 1
	for _, line := range p.Help {
		if len([]rune(line)) <= c.Width-2 {
			c.Text(1, y, line, view.Plain)
			y++
			continue
		}
		lines := wrapped(line, c.Width-2)
		wrap(c, 1, y, len(lines), line, view.Plain)
		y += len(lines)
	}
	c.Text(1, c.Height-1, clip("? closes this page", c.Width-2), view.Dim)
}

func drawAll(c *Canvas, p *view.Picture) {
	drawHead(c, p)
	bottom := c.Height - 1
	c.Text(0, bottom, clip(p.Keys, c.Width), view.Dim)
	bottom--
	if p.Practice != nil {
		drawTexts(c, 0, bottom, p.Practice)
		bottom--
	}
	bottom -= drawFoot(c, p, bottom)
	lanes := laneRows(c, p, bottom)
	if len(p.Lanes) > 0 {
		bottom -= lanes*len(p.Lanes) + 1
		drawLanes(c, p, bottom+1, lanes)
	}
	drawAdvice(c, p, 1, bottom)
}

// laneRows is how many rows each lane gets.
func laneRows(c *Canvas, p *view.Picture, bottom int) int {
	if len(p.Lanes) == 0 {
		return 1
	}
	// The advice keeps at least a third of the screen, and its large letters.
	room := bottom - 1 - max(c.Height/3, bigRows+1+len(sayLines(c, p)))
	return min(max(room/len(p.Lanes), 1), 3)
}

// drawHead writes the head line: the parts at the left, the last at the right.
func drawHead(c *Canvas, p *view.Picture) {
	x := 0
	last := len(p.Head) - 1
	for _, t := range p.Head[:last] {
		x = c.Text(x, 0, t.Text, t.Role) + 3
	}
	end := p.Head[last]
	c.Text(max(x, c.Width-utf8.RuneCountInString(end.Text)), 0, end.Text, end.Role)
}

func drawTexts(c *Canvas, x, y int, texts []view.Text) {
	for _, t := range texts {
		x = c.Text(x, y, t.Text, t.Role) + 1
	}
}

// drawFoot writes the foot so that it ends in row bottom, and returns its rows.
func drawFoot(c *Canvas, p *view.Picture, bottom int) int {
	rows := 0
	for i := len(p.Foot) - 1; i >= 0; i-- {
		t := p.Foot[i]
		need := len(wrapped(t.Text, c.Width))
		rows += need
		wrap(c, 0, bottom-rows+1, need, t.Text, t.Role)
	}
	return rows
}

// sayLines breaks the advice's sentences into lines.
func sayLines(c *Canvas, p *view.Picture) (lines []string) {
	for _, s := range p.Say {
		lines = append(lines, wrapped(s, c.Width-2)...)
	}
	return lines
}

// drawAdvice writes the advice between two rows: large if there is room, and
// its sentences below.
func drawAdvice(c *Canvas, p *view.Picture, top, bottom int) {
	lines := sayLines(c, p)
	room := bottom - top + 1
	glyphs := bigGlyphs(p)
	if size, ok := fits(glyphs, c.Width-1, room-len(lines)-1); ok {
		top += max((room-len(lines)-1-bigRows*size.rows)/3, 0)
		drawBig(c, glyphs, top, size, p.Role)
		top += bigRows*size.rows + 1
	} else {
		drawSmall(c, p, top)
		top++
	}
	for i, l := range lines {
		if top+i <= bottom {
			c.Text(1, top+i, l, roleOf(p, view.Plain))
		}
	}
}

// drawSmall writes the advice in letters of one cell.
func drawSmall(c *Canvas, p *view.Picture, y int) {
	x := c.Text(1, y, p.Big, p.Role)
	if p.Arrow != 0 {
		x = c.Text(x+1, y, arrowWord(p.Arrow), p.Role)
	}
	c.Text(x+1, y, p.Amount, p.Role)
}

// roleOf is dim on a stale picture, else role.
func roleOf(p *view.Picture, role view.Role) view.Role {
	if p.Stale {
		return view.Dim
	}
	return role
}

// bigGlyphs returns the large letters of the advice.
func bigGlyphs(p *view.Picture) [][5]string {
	var out [][5]string
	add := func(s string) {
		for _, r := range s {
			g, ok := glyphs[r]
			if !ok {
				g = glyphs['?']
			}
			out = append(out, g)
		}
	}
	add(p.Big)
	if p.Arrow != 0 {
		out = append(out, glyphs[' '])
		if p.Arrow > 0 {
			out = append(out, clockwiseGlyph)
		} else {
			out = append(out, anticlockwiseGlyph)
		}
	}
	if p.Amount != "" {
		add("  " + p.Amount)
	}
	return out
}

// markSize is how many rows and columns a mark of the large letters takes.
type markSize struct{ rows, cols int }

// markSizes from the largest. Cells are twice as tall as wide.
var markSizes = []markSize{{5, 10}, {4, 8}, {3, 6}, {2, 4}, {1, 2}, {1, 1}}

// fits returns the largest size at which the letters fit.
func fits(glyphs [][5]string, width, rows int) (markSize, bool) {
	total := 0
	for _, g := range glyphs {
		total += len(g[0]) + 1
	}
	for _, s := range markSizes {
		if bigRows*s.rows <= rows && total*s.cols <= width {
			return s, true
		}
	}
	return markSize{}, false
}

func drawBig(c *Canvas, glyphs [][5]string, top int, size markSize, role view.Role) {
	x := 1
	for _, g := range glyphs {
		for row, marks := range g {
			for col, m := range marks {
				if m == '#' {
					fill(c, x+col*size.cols, top+row*size.rows, size, role)
				}
			}
		}
		x += (len(g[0]) + 1) * size.cols
	}
}

func fill(c *Canvas, x, y int, size markSize, role view.Role) {
	for dy := range size.rows {
		for dx := range size.cols {
			c.Set(x+dx, y+dy, '█', role)
		}
	}
}

// drawLanes draws the scale in row top and the lanes below it.
func drawLanes(c *Canvas, p *view.Picture, top, rows int) {
	left := labelWidth + drawWidth
	right := c.Width - diffWidth
	if right-left < 10 {
		return
	}
	middle := (left + right) / 2
	half := min(middle-left, right-1-middle)
	c.Text(labelWidth+drawWidth-2-len(p.Unit), top, p.Unit, view.Dim)
	if right-left > 60 {
		c.Text(middle-half, top, p.Left, view.Dim)
		c.Text(middle+half+1-utf8.RuneCountInString(p.Right), top, p.Right, view.Dim)
		c.Text(middle-utf8.RuneCountInString(p.Middle)/2, top, p.Middle, view.Dim)
	} else {
		c.Text(middle, top, "0", view.Dim)
	}
	for i := range p.Lanes {
		y := top + 1 + i*rows
		drawLane(c, p, &p.Lanes[i], y, rows, middle, half)
	}
}

func drawLane(c *Canvas, p *view.Picture, l *view.Lane, y, rows, middle, half int) {
	place := func(share float64) int { return middle + int(math.Round(share*float64(half))) }
	center := y + (rows-1)/2
	role := roleOf(p, l.Role)
	label := l.Label
	if l.Reference {
		label += "="
	}
	c.Text(0, center, label, roleOf(p, view.Strong))
	c.Text(labelWidth+drawWidth-2-utf8.RuneCountInString(l.Draw), center, l.Draw, roleOf(p, view.Plain))
	for dy := range rows {
		for x := place(-min(p.Band, 1)); x <= place(min(p.Band, 1)); x++ {
			c.Set(x, y+dy, '·', view.Dim)
		}
		if p.Limit < 1 {
			c.Set(place(-p.Limit), y+dy, '┆', view.Dim)
			c.Set(place(p.Limit), y+dy, '┆', view.Dim)
		}
		c.Set(middle, y+dy, '│', view.Dim)
	}
	text := l.Difference
	if l.Fault != "" {
		text = l.Fault
	}
	c.Text(middle+half+2, center, clip(text, c.Width-middle-half-2), role)
	if !l.Shown {
		return
	}
	at := place(l.At)
	for x := max(place(l.At-l.Half), middle-half); x <= min(place(l.At+l.Half), middle+half); x++ {
		c.Set(x, center, '─', role)
	}
	mark := '◆'
	if l.Reference {
		mark = '◇'
	}
	for dy := range rows {
		c.Set(at, y+dy, mark, role)
	}
}

// clip cuts s to width columns.
func clip(s string, width int) string {
	r := []rune(s)
	if len(r) <= width {
		return s
	}
	if width <= 1 {
		return ""
	}
	return string(r[:width-1]) + "…"
}
