package screen

import (
	"slices"

	"evendraw/internal/view"
)

// drawPractice writes the practice's screws, without the words before them where those don't fit.
func (c *Canvas) drawPractice(p *view.Picture, y int) {
	texts, need := p.Practice, 0
	for _, t := range texts {
		need += c.width(t.Text) + 1
	}
	if need > c.Width {
		texts = texts[1:]
	}
	c.drawTexts(0, y, texts)
}

// drawInHand writes the practice's screw in hand, and returns where the keys may begin.
func (c *Canvas) drawInHand(p *view.Picture, y int) int {
	for _, t := range p.Practice[1:] {
		if t.Role == view.Strong && p.Entry == nil {
			return c.Text(0, y, t.Text, t.Role) + 2
		}
	}
	return 0
}

// drawKeys writes as many of the keys as fit from x on, and always the one that tells all others.
func (c *Canvas) drawKeys(keys []string, x, y int) {
	const gap = 2
	help := slices.Index(keys, view.HelpKey)
	sign := view.HelpKey[:1]
	for i, k := range keys {
		need := c.width(k)
		if i < help {
			need += gap + len(sign)
		}
		if x+need > c.Width {
			switch {
			case i > help: // it is there
			case x+len(view.HelpKey) <= c.Width:
				c.Text(x, y, view.HelpKey, view.Dim)
			default:
				c.Text(x, y, sign, view.Dim)
			}
			return
		}
		x = c.Text(x, y, k, view.Dim) + gap
	}
}

// leastTyped is how many columns what is typed has at least. Chosen: an idle speed, and the end of a remark.
const leastTyped = 12

// drawEntry writes a question, and the end of what is typed, so that it ends in row bottom, and returns its rows.
func (c *Canvas) drawEntry(e *view.Entry, bottom int) int {
	lines := c.wrapped(e.Prompt+":", c.Width)
	if c.width(lines[len(lines)-1])+1+leastTyped > c.Width {
		lines = append(lines, "")
	}
	x := 0
	for i, line := range lines {
		if x = c.Text(0, bottom-len(lines)+1+i, line, view.Strong); x > 0 {
			x++
		}
	}
	typed := e.Text
	for cut := 0; c.width(typed) > c.Width-x-1; cut++ {
		typed = "…" + string([]rune(e.Text)[cut+1:])
	}
	c.Text(c.Text(x, bottom, typed, view.Plain), bottom, "█", view.Plain)
	return len(lines)
}

// drawFoot writes the foot so that it ends in row bottom, and returns its rows.
func (c *Canvas) drawFoot(p *view.Picture, bottom int) int {
	rows := 0
	most := max(c.Height/8, 1)
	for i := len(p.Foot) - 1; i >= 0; i-- {
		t := p.Foot[i]
		need := min(len(c.wrapped(t.Text, c.Width)), most)
		rows += need
		c.drawWrapped(0, bottom-rows+1, need, t.Text, t.Role)
	}
	return rows
}
