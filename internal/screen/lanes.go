package screen

import (
	"math"

	"evendraw/internal/view"
)

// Columns of a lane's texts.
const (
	labelWidth = 3
	drawWidth  = 7
	diffWidth  = 13
	// traceWidth is the columns of a trace on a screen of at least traceFrom, and
	// as many more on one twice as wide; leastLane is what the lane itself keeps.
	traceWidth, traceFrom = 15, 72
	leastLane             = 10
)

// hills are the heights of a trace in eighths of a cell.
var hills = []rune(" ▁▂▃▄▅▆▇█")

// laneRows is how many rows each lane gets of the body's.
func (c *Canvas) laneRows(p *view.Picture, room int) int {
	room -= 1 + max(c.Height/3, 2*bigRows+2+len(c.sayLines(p.Say)))
	return min(max(room/len(p.Lanes), 1), max(3, c.Height/12))
}

// lanePlace is where the lanes lie.
type lanePlace struct {
	left, middle, half int // columns
	diff, trace, wide  int // columns of the difference and the trace, and the trace's width
	rows               int
}

// place returns the column at a share of the lane's half-width.
func (l *lanePlace) place(share float64) int {
	return l.middle + int(math.Round(share*float64(l.half)))
}

// drawLanes draws the scale, if it is wanted, in row top and the lanes below it.
func (c *Canvas) drawLanes(p *view.Picture, top, rows, scale int) {
	l := lanePlace{left: labelWidth + drawWidth, rows: rows}
	if c.Width >= traceFrom {
		l.wide = traceWidth * max(c.Width/traceFrom, 1)
		l.wide = min(l.wide, 4*traceWidth)
	}
	l.trace = c.Width - l.wide
	l.diff = l.trace - diffWidth
	if l.diff-l.left < leastLane {
		return
	}
	l.middle = (l.left + l.diff) / 2
	l.half = min(l.middle-l.left, l.diff-2-l.middle)
	if scale > 0 {
		c.drawScale(p, top, &l)
	}
	for i := range p.Lanes {
		c.drawLane(p, &p.Lanes[i], top+scale+i*rows, &l)
	}
}

func (c *Canvas) drawScale(p *view.Picture, y int, l *lanePlace) {
	c.Text(l.left-2-len(p.Unit), y, p.Unit, view.Dim)
	if 2*l.half > c.width(p.Left)+c.width(p.Middle)+c.width(p.Right)+4 {
		c.Text(l.middle-l.half, y, p.Left, view.Dim)
		c.Text(l.middle+l.half+1-c.width(p.Right), y, p.Right, view.Dim)
		c.Text(l.middle-c.width(p.Middle)/2, y, p.Middle, view.Dim)
	} else {
		c.Text(l.middle-l.half, y, "◂ less vac.", view.Dim)
		c.Text(l.middle, y, "0", view.Dim)
		c.Text(l.middle+l.half-10, y, "more vac. ▸", view.Dim)
	}
	if l.wide > 0 {
		c.Text(c.Width-10, y, "last 30 s", view.Dim)
	}
}

func (c *Canvas) drawLane(p *view.Picture, lane *view.Lane, y int, l *lanePlace) {
	center := y + (l.rows-1)/2
	role := roleOf(p, lane.Role)
	label := lane.Label
	if lane.Reference {
		label += "="
	}
	c.Text(0, center, label, roleOf(p, view.Strong))
	c.Text(l.left-2-c.width(lane.Draw), center, lane.Draw, roleOf(p, view.Plain))
	for dy := range l.rows {
		for x := l.place(-min(p.Band, 1)); x <= l.place(min(p.Band, 1)); x++ {
			c.Set(x, y+dy, '·', view.Dim)
		}
		if p.Limit < 1 {
			c.Set(l.place(-p.Limit), y+dy, '┆', view.Dim)
			c.Set(l.place(p.Limit), y+dy, '┆', view.Dim)
		}
		c.Set(l.middle, y+dy, '│', view.Dim)
	}
	text := lane.Difference
	if lane.Fault != "" {
		text = lane.Fault
	}
	room := c.Width - l.diff
	if lane.Fault == "" && lane.Trace != nil {
		room = diffWidth - 1
	}
	c.Text(l.diff, center, c.clip(text, room), role)
	if lane.Fault == "" {
		c.drawTrace(lane.Trace, y, l)
	}
	if !lane.Shown {
		return
	}
	for x := max(l.place(lane.At-lane.Half), l.middle-l.half); x <= min(l.place(lane.At+lane.Half), l.middle+l.half); x++ {
		c.Set(x, center, '─', role)
	}
	mark := '◆'
	if lane.Reference {
		mark = '◇'
	}
	for dy := range l.rows {
		c.Set(l.place(lane.At), y+dy, mark, role)
	}
}

// mostHill keeps a trace an eighth of a cell off the one above.
const mostHill = 7.0 / 8

// drawTrace draws the last half minute as hills: half high is level with the
// reference.
func (c *Canvas) drawTrace(trace []float64, y int, l *lanePlace) {
	if l.wide == 0 || len(trace) == 0 {
		return
	}
	for col := range l.wide - 1 {
		from, to := col*len(trace)/(l.wide-1), (col+1)*len(trace)/(l.wide-1)
		sum, n := 0.0, 0
		for _, v := range trace[from:max(to, from+1)] {
			if !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n > 0 {
			height := (1 + sum/float64(n)) / 2
			c.drawHill(l.trace+col+1, y+l.rows-1, l.rows, height*(float64(l.rows)-1+mostHill)/float64(l.rows), view.Dim)
		}
	}
}

// drawHill fills a column of rows, whose lowest is row bottom, to a height from 0
// to 1; at least an eighth of a cell shows.
func (c *Canvas) drawHill(x, bottom, rows int, height float64, role view.Role) {
	eighths := max(int(math.Round(height*float64(8*rows))), 1)
	for dy := 0; eighths > 0; dy++ {
		c.Set(x, bottom-dy, hills[min(eighths, 8)], role)
		eighths -= 8
	}
}
