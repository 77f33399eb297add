package screen

import (
	"slices"
	"strings"

	"evendraw/internal/view"
)

// smallWidth and smallHeight are the smallest screen that is drawn with more than the advice.
const smallWidth, smallHeight = 40, 12

// stepHeight is the lowest screen that has room for the step's name and the lines that can be spared.
const stepHeight = 18

// Draw fills the canvas with the view. It reads the view only.
func Draw(c *Canvas, v *view.View) {
	c.Clear()
	p := v.Picture()
	switch {
	case c.Width < smallWidth || c.Height < smallHeight:
		c.drawTiny(&p)
	case p.Help != nil:
		c.drawHelp(p.Help, c.drawWord(&p, 0))
	default:
		c.tall = c.Height >= stepHeight
		high := c.drawAll(&p)
		if !c.tall || high == len(p.Say) || high >= kept(&p) && !p.Read {
			return
		}
		c.Clear()
		c.tall = false // what can be spared takes no sentence's room
		if c.drawAll(&p) <= high {
			c.Clear()
			c.tall = true
			c.drawAll(&p)
		}
	}
}

// drawTiny shows the words of the advice alone.
func (c *Canvas) drawTiny(p *view.Picture) {
	text := inRow(p)
	y := len(c.wrapped(text, c.Width))
	c.drawWrapped(0, 0, c.Height, text, p.Role)
	for _, line := range c.sayLines(p.Say) {
		if y < c.Height-1 {
			c.Text(0, y, line, view.Plain)
			y++
		}
	}
	if y < c.Height {
		c.Text(0, c.Height-1, c.clip("q quit; needs a larger window", c.Width), view.Dim)
	}
}

// drawWord writes what is to be done above a page that has something else to show, and returns its rows:
// letters of half marks, or of one cell where a row is all that can be spared.
func (c *Canvas) drawWord(p *view.Picture, top int) int {
	if big, ok := c.setBig(p, leastBigRows); ok && c.Height >= stepHeight && p.Phone == nil {
		return c.drawBig(&big, top, p.Role) - top
	}
	c.drawSmall(p, top)
	return 1
}

// helpColumn is the column of the help in which it is said what keys do, itemColumn that of a numbered item's text.
const (
	helpColumn = 10
	itemColumn = 5
)

// drawHelp shows as much of the help as there is room for, from row top on.
func (c *Canvas) drawHelp(paragraphs []string, top int) {
	var lines []string
	for _, paragraph := range paragraphs {
		runes, column := []rune(paragraph), helpColumn
		if strings.HasPrefix(paragraph, "  ") {
			column = itemColumn
		}
		switch {
		case c.width(paragraph) <= c.Width-2:
			lines = append(lines, paragraph)
		case len(runes) > column && string(runes[column-2:column]) == "  ": // keys, and what they do
			head := string(runes[:column])
			for _, line := range c.wrapped(string(runes[column:]), c.Width-2-column) {
				lines = append(lines, head+line)
				head = strings.Repeat(" ", column)
			}
		default:
			lines = append(lines, c.wrapped(paragraph, c.Width-2)...)
		}
	}
	last := "? or Esc closes this page"
	switch room := c.Height - top; {
	case room > len(lines)+1:
		top++
	case room <= len(lines):
		lines, last = lines[:room-1], "↑↓ more   "+last
	}
	for i, line := range lines {
		c.Text(1, top+i, line, view.Plain)
	}
	c.Text(1, c.Height-1, c.clip(last, c.Width-2), view.Dim)
}

// drawAll draws the head and the foot, and what the page holds between. It returns how many sentences stand there.
func (c *Canvas) drawAll(p *view.Picture) (said int) {
	c.drawHead(p)
	top := 1
	if p.Step != nil && (c.tall || p.List != nil || p.Table != nil && !p.Read) && !p.Alone {
		c.drawTexts(0, top, p.Step)
		top++
	}
	bottom := c.Height - 1
	practice := p.Practice != nil && !p.Alone
	if !practice || c.Height >= stepHeight {
		c.drawKeys(p.Keys, 0, bottom)
		bottom--
	}
	if practice && c.Height >= stepHeight {
		c.drawPractice(p, bottom)
		bottom--
	} else if practice { // the screw in hand, and its keys
		c.drawKeys(p.Keys, c.drawInHand(p, bottom), bottom)
		bottom--
	}
	if p.Entry != nil {
		bottom -= c.drawEntry(p.Entry, bottom)
	}
	needed := len(p.Foot) > 0 && p.Foot[0].Role != view.Plain
	if !p.Alone && (needed || p.Entry == nil && c.tall) {
		bottom -= c.drawFoot(p, bottom)
	}
	return c.drawBody(p, top, bottom)
}

// drawBody draws the advice and what stands below it, and returns how many of its sentences.
func (c *Canvas) drawBody(p *view.Picture, top, bottom int) (said int) {
	if p.Phone != nil || p.Waves != nil {
		top += c.drawWord(p, top)
	}
	room := bottom - top + 1
	// The advice keeps a third of the screen, and room for its large letters.
	most := max(room-max(c.Height/3, bigRows+2), 0)
	switch {
	case p.Alone:
	case p.Phone != nil:
		c.drawPhone(p.Phone, top, bottom)
		return 0
	case p.Waves != nil:
		c.drawWaves(p.Waves, top, bottom)
		return 0
	case p.Table != nil && p.Lanes == nil:
		most = max(most, room-3)
		if p.Say == nil && !c.tall { // a page that is looked at
			most = room - 1
		}
		if p.Read {
			lines := len(c.sayLines(p.Say))
			most = max(room-leastBigRows-lines, min(room-1-lines, leastTableRows), 0)
		}
		rows := min(c.tableRows(p.Table), most)
		bottom -= rows
		c.drawTable(p.Table, bottom+1, rows)
	case p.List != nil:
		need := len(c.sayLines(p.Say)) + 2
		if c.tall {
			need += bigRows
		}
		rows := min(len(p.List), max(room-need, 3))
		bottom -= rows
		c.drawList(p.List, bottom+1, rows)
	case len(p.Lanes) > 0:
		rows := c.laneRows(p, room)
		scale := 1
		if !c.tall {
			scale = 0
		}
		if need := rows*len(p.Lanes) + scale; !c.needsAll(p, room, need) {
			bottom -= need
			c.drawLanes(p, bottom+1, rows, scale)
		}
	}
	return c.drawAdvice(p, top, bottom)
}

// needsAll reports whether the words need the lanes' rows too: a low screen's room goes first to large letters with
// what must be read, or with the first sentence.
func (c *Canvas) needsAll(p *view.Picture, room, lanes int) bool {
	say := p.Say
	if !p.Read && len(say) > 0 {
		say = say[:1]
	}
	_, beside := c.setAbove(p, room-lanes, len(c.sayLines(say)))
	return !beside && !c.tall
}

// The rows that large letters and a table keep where sentences matter: letters of half marks; a head and two channels.
const leastBigRows, leastTableRows = (bigRows + 1) / 2, 3

// tableRows is how many rows a table takes with the lines below it.
func (c *Canvas) tableRows(t *view.Table) int {
	return len(t.Rows) + c.rows(t.Below)
}

// drawHead writes the head line: the last part at the right, the others at the left. Where
// there is no room for all, the bike's name goes first, then what is as it should be.
func (c *Canvas) drawHead(p *view.Picture) {
	const gap = 2
	parts := slices.Clone(p.Head)
	need := func() (n int) {
		for _, t := range parts {
			n += c.width(t.Text) + gap
		}
		return n - gap
	}
	if n := need(); n > c.Width {
		name := &parts[0]
		name.Text = c.clip(name.Text, max(c.width(name.Text)-(n-c.Width), 0))
	}
	for _, i := range []int{0, len(parts) - 1, 2} {
		if i < len(parts) && need() > c.Width && (i == 0 || parts[i].Role == view.Plain) {
			parts[i].Text = ""
		}
	}
	x, last := 0, len(parts)-1
	for _, t := range parts[:last] {
		if t.Text != "" {
			x = c.Text(x, 0, t.Text, t.Role) + gap
		}
	}
	c.Text(max(x, c.Width-c.width(parts[last].Text)), 0, parts[last].Text, parts[last].Role)
}

func (c *Canvas) drawTexts(x, y int, texts []view.Text) {
	for _, t := range texts {
		x = c.Text(x, y, c.clip(t.Text, c.Width-x), t.Role) + 1
	}
}

// sayLines breaks sentences into lines.
func (c *Canvas) sayLines(sentences []string) (lines []string) {
	for _, s := range sentences {
		lines = append(lines, c.wrapped(s, c.Width-2)...)
	}
	return lines
}

// setAbove sets the advice above lines of sentences: with a blank row between, if it is not of half marks.
func (c *Canvas) setAbove(p *view.Picture, room, lines int) (big bigText, ok bool) {
	if big, ok = c.setBig(p, room-lines-min(lines, 1)); ok || lines == 0 {
		return big, ok
	}
	big, ok = c.setBig(p, room-lines)
	return big, ok && big.sizes[0].half
}

// largeRows is how high large letters are where more than the first sentence stands below them: a third of 24 rows.
// Chosen.
const largeRows = 8

// kept is how many sentences matter as much as large letters: of a turn also the second, which says when to stop.
func kept(p *view.Picture) int {
	if p.Arrow != 0 {
		return min(len(p.Say), 2)
	}
	return 1
}

// setAdvice sets the advice in a room, and says how many of its sentences stand below it, whole. Where the letters
// take less than largeRows, the last sentences give way, where they take that little in any case, all that are not
// kept; these give way only to a turn's letters. Where sentences must be read, the letters give way. ok is false where
// no large letters fit.
func (c *Canvas) setAdvice(p *view.Picture, room int) (big bigText, said int, ok bool) {
	for _, least := range []int{largeRows, 0} {
		said = len(p.Say)
		if least == 0 {
			said = min(said, kept(p))
		}
		for ; said > 0; said-- {
			lines := len(c.sayLines(p.Say[:said]))
			big, ok = c.setAbove(p, room, lines)
			if ok && (p.Read || big.height() >= least) || p.Read && lines < room {
				return big, said, ok
			}
		}
	}
	big, ok = c.setAbove(p, room, 0)
	if (!ok || p.Arrow == 0) && len(p.Say) > 0 {
		for ok, said = false, kept(p); said > 1 && len(c.sayLines(p.Say[:said])) >= room; {
			said--
		}
	}
	return big, said, ok
}

// drawAdvice writes the advice between two rows: large if there is room, and its sentences below, of which it returns
// how many stand there.
func (c *Canvas) drawAdvice(p *view.Picture, top, bottom int) int {
	room := bottom - top + 1
	big, said, ok := c.setAdvice(p, room)
	lines := c.sayLines(p.Say[:said])
	if !ok {
		c.drawSmall(p, top)
		top++
	} else {
		if p.Alone {
			top += (room - len(lines) - big.height()) / 2
		}
		top = c.drawBig(&big, top, p.Role)
	}
	for i, l := range lines {
		if top+i <= bottom {
			c.Text(1, top+i, l, roleOf(p, view.Plain))
		}
	}
	return said
}

// drawSmall writes the advice in letters of one cell.
func (c *Canvas) drawSmall(p *view.Picture, y int) { c.Text(1, y, inRow(p), p.Role) }

// inRow is the advice in one row.
func inRow(p *view.Picture) string {
	way := ""
	if p.Arrow != 0 {
		way = arrowWord(p.Arrow)
	}
	parts := []string{p.Screw, p.Big, way, p.Way, p.Amount}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

// roleOf is dim on a stale picture, else role.
func roleOf(p *view.Picture, role view.Role) view.Role {
	if p.Stale {
		return view.Dim
	}
	return role
}
