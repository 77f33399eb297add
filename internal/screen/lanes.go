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
	// traceWidth is the columns of a trace for every traceFrom columns of the screen;
	// minLaneWidth is the least that the lane itself keeps.
	traceWidth, traceFrom = 15, 72
	minLaneWidth          = 10
)

// hillRunes are the heights of a trace in eighths of a cell.
var hillRunes = []rune(" ▁▂▃▄▅▆▇█")

// laneRows is how many of the body's rows each lane gets: more than one where that takes neither a sentence nor large
// letters up to half of the screen.
func (c *Canvas) laneRows(p *view.Picture, room int) int {
	const apart = 2 // the scale, and a row left free
	most, said, _ := c.setAdvice(p, room-len(p.Lanes)-apart)
	for rows := min(room/len(p.Lanes), max(3, c.Height/12)); rows > 1; rows-- {
		big, s, ok := c.setAdvice(p, room-rows*len(p.Lanes)-apart)
		if ok && s == said && big.height() >= min(most.height(), c.Height/2) {
			return rows
		}
	}
	return 1
}

// laneLayout is where the lanes lie.
type laneLayout struct {
	left, middle, half     int // columns
	diff, trace, traceWide int // columns of the difference and the trace, and the trace's width
	rows                   int
}

// column returns the column at a share of the lane's half-width.
func (l *laneLayout) column(share float64) int {
	return l.middle + int(math.Round(share*float64(l.half)))
}

// drawLanes draws the scale, if it is wanted, in row top and the lanes below it.
func (c *Canvas) drawLanes(p *view.Picture, top, rows, scale int) {
	l := laneLayout{left: labelWidth + drawWidth, rows: rows}
	if c.Width >= traceFrom {
		l.traceWide = traceWidth * max(c.Width/traceFrom, 1)
		l.traceWide = min(l.traceWide, 4*traceWidth)
	}
	l.trace = c.Width - l.traceWide
	l.diff = l.trace - diffWidth
	if l.diff-l.left < minLaneWidth {
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

func (c *Canvas) drawScale(p *view.Picture, y int, l *laneLayout) {
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
	if l.traceWide > 0 {
		c.Text(c.Width-10, y, "last 30 s", view.Dim)
	}
}

func (c *Canvas) drawLane(p *view.Picture, lane *view.Lane, y int, l *laneLayout) {
	center := y + (l.rows-1)/2
	role := roleOf(p, lane.Role)
	label := lane.Label
	if lane.Reference {
		label += "="
	}
	c.Text(0, center, label, roleOf(p, view.Strong))
	c.Text(l.left-2-c.width(lane.Draw), center, lane.Draw, roleOf(p, view.Plain))
	for dy := range l.rows {
		for x := l.column(-min(p.Band, 1)); x <= l.column(min(p.Band, 1)); x++ {
			c.Set(x, y+dy, '·', view.Dim)
		}
		if p.Limit < 1 {
			c.Set(l.column(-p.Limit), y+dy, '┆', view.Dim)
			c.Set(l.column(p.Limit), y+dy, '┆', view.Dim)
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
	from, to := max(l.column(lane.At-lane.Half), l.middle-l.half), min(l.column(lane.At+lane.Half), l.middle+l.half)
	for x := from; x <= to; x++ {
		c.Set(x, center, '─', role)
	}
	if lane.WithIdle {
		for dy := range l.rows {
			c.Set(l.column(lane.Idle), y+dy, '◇', role)
		}
	}
	mark := '◆'
	if lane.Reference {
		mark = '◇'
	}
	for dy := range l.rows {
		c.Set(l.column(lane.At), y+dy, mark, role)
	}
}

// maxHill is the highest a trace fills its uppermost cell, an eighth off the trace above.
const maxHill = 7.0 / 8

// drawTrace draws the last half minute as hills: half high is level with the reference.
func (c *Canvas) drawTrace(trace []float64, y int, l *laneLayout) {
	if l.traceWide == 0 || len(trace) == 0 {
		return
	}
	for col := range l.traceWide - 1 {
		from, to := col*len(trace)/(l.traceWide-1), (col+1)*len(trace)/(l.traceWide-1)
		sum, n := 0.0, 0
		for _, v := range trace[from:max(to, from+1)] {
			if !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n > 0 {
			height := (1 + sum/float64(n)) / 2
			c.drawHill(l.trace+col+1, y+l.rows-1, l.rows, height*(float64(l.rows)-1+maxHill)/float64(l.rows), view.Dim)
		}
	}
}

// drawHill fills a column of rows, whose lowest is row bottom, to a height from 0
// to 1; at least an eighth of a cell shows.
func (c *Canvas) drawHill(x, bottom, rows int, height float64, role view.Role) {
	eighths := max(int(math.Round(height*float64(8*rows))), 1)
	for dy := 0; eighths > 0; dy++ {
		c.Set(x, bottom-dy, hillRunes[min(eighths, 8)], role)
		eighths -= 8
	}
}
