package screen

import (
	"slices"
	"strings"

	"evendraw/internal/benchform"
	"evendraw/internal/view"
)

// Columns of the form that a bench card is filled in with.
const (
	nameWidth       = 14
	narrowNameWidth = 12 // on a screen below narrowWidth
	cellWidth       = 11

	narrowWidth = 60
)

// DrawBenchForm fills the canvas with the form. It reads the form only.
func DrawBenchForm(c *Canvas, f *benchform.Form) {
	c.Clear()
	p := f.Picture()
	if p.Help != nil {
		c.drawHelp(p.Help, 0)
		return
	}
	c.Text(0, 0, c.clip(c.firstFitting(p.Heads), c.Width), view.Strong)
	name, place := nameWidth, cellWidth
	if c.Width < narrowWidth {
		name = narrowNameWidth
	}
	if n := len(p.Columns); n > 0 {
		place = max(min(place, (c.Width-name)/n), 4)
	}
	y, last := 2, 3 // a blank row, what can be done, the keys
	if c.Height < stepHeight {
		y, last = 1, 2
	}
	for i, head := range p.Columns {
		c.Text(name+i*place+1, y, head, view.Strong)
	}
	y++
	texts, hand, below := c.formTexts(&p, name+len(p.Columns)*place)
	if c.Width < narrowWidth {
		p.Do = p.ShortDo
	}
	below = max(below+last, leastBelow)
	for _, row := range visibleRows(p.Rows, c.Height-y-below) {
		c.Text(0, y, c.clip(row.Name, name-1), view.Plain)
		for i, t := range row.Places {
			drawCell(c, name+i*place, y, place, t, row.Cursor == i)
		}
		if x := name + len(row.Places)*place; x+c.width(row.Unit) <= c.Width {
			c.Text(x, y, row.Unit, view.Dim)
		}
		y++
	}
	if c.Height >= stepHeight {
		y++
	}
	for ; hand > 0 && y+c.rows(texts[:hand+1]) > c.Height-2; hand-- {
		texts = texts[1:]
	}
	for _, t := range texts {
		rows := c.rows([]view.Text{t})
		if y+rows > c.Height-2 {
			break
		}
		c.drawWrapped(0, y, rows, t.Text, t.Role)
		y += rows
	}
	c.drawTexts(0, c.Height-2, p.Do)
	c.drawKeys(p.Keys, 0, c.Height-1)
}

// formTexts are the lines below the table: what the value in hand is counted in, too, where its row, whose unit would
// begin in column x, has no room for it. hand is the line that is being written, -1 for none; least is how many rows
// are kept: for what is being written or wrong, and for the unit.
func (c *Canvas) formTexts(p *benchform.Picture, x int) (texts []view.Text, hand, least int) {
	texts = p.Below
	hand = slices.IndexFunc(texts, func(t view.Text) bool { return t.Role == view.Strong })
	whole := hand + 1
	if hand < 0 && texts[0].Role != view.Plain && texts[0].Role != view.Dim {
		whole = 1
	}
	for _, row := range p.Rows {
		if row.Cursor >= 0 && row.Unit != "" && x+c.width(row.Unit) > c.Width {
			texts = slices.Insert(slices.Clone(texts), whole, view.Text{Text: row.Name + ": " + row.Unit})
			whole++
		}
	}
	return texts, hand, c.rows(texts[max(hand, 0):whole])
}

// rows is how many rows texts take, each on a row of its own.
func (c *Canvas) rows(texts []view.Text) (n int) {
	for _, t := range texts {
		n += len(c.wrapped(t.Text, c.Width))
	}
	return n
}

// firstFitting is the first of some texts that fits a row, the last where none does.
func (c *Canvas) firstFitting(texts []string) string {
	i := slices.IndexFunc(texts, func(t string) bool { return c.width(t) <= c.Width })
	if i < 0 {
		i = len(texts) - 1
	}
	return texts[i]
}

// leastBelow is how many rows stay for what is below the table.
const leastBelow = 4

// visibleRows are as many of the rows as fit, with the one in hand among them; the last ones where it is below them.
func visibleRows(rows []benchform.Row, room int) []benchform.Row {
	room = max(room, 1)
	if len(rows) <= room {
		return rows
	}
	hand := slices.IndexFunc(rows, func(r benchform.Row) bool { return r.Cursor >= 0 })
	if hand < 0 {
		hand = len(rows) - 1
	}
	first := max(hand-room+1, 0)
	return rows[first : first+room]
}

// eighths write settings shorter, where room is short.
var eighths = strings.NewReplacer(" 1/8", "⅛", " 1/4", "¼", " 3/8", "⅜", " 1/2", "½", " 5/8", "⅝",
	" 3/4", "¾", " 7/8", "⅞")

// drawCell writes one place of the table; the cursor is a pair of marks around it.
func drawCell(c *Canvas, x, y, width int, t view.Text, cursor bool) {
	text := t.Text
	if n := c.width(text); n > width-2 && t.Role == view.Strong { // the end is what is being typed
		text = "…" + string([]rune(text)[n-(width-3):])
	} else if n > width-2 && !c.ASCII {
		text = eighths.Replace(text)
	}
	text = c.clip(text, width-2)
	if text == "" {
		text = "·"
	}
	end := c.Text(x+1, y, text, t.Role)
	if cursor {
		c.Set(x, y, '▸', view.Strong)
		c.Set(end, y, '◂', view.Strong)
	}
}
