package screen

import (
	"slices"

	"evendraw/internal/view"
)

// drawPractice writes the practice's screws, with as many of the words before them as fit: first whether the engine
// runs.
func (c *Canvas) drawPractice(p *view.Picture, y int) {
	head, screws := p.Practice[:view.PracticeHead], p.Practice[view.PracticeHead:]
	for _, words := range [][]view.Text{head, head[1:], nil} {
		texts, need := slices.Concat(words, screws), -1
		for _, t := range texts {
			need += c.width(t.Text) + 1
		}
		if need <= c.Width || words == nil {
			c.drawTexts(0, y, texts)
			return
		}
	}
}

// drawInHand writes the practice's screw in hand, and returns where the keys may begin.
func (c *Canvas) drawInHand(p *view.Picture, y int) int {
	for _, t := range p.Practice[view.PracticeHead:] {
		if t.Role == view.Strong && p.Entry == nil {
			return c.Text(0, y, t.Text, t.Role) + 2
		}
	}
	return 0
}

// keyGap is how many columns part two keys, and moreKeys stands behind those that fit where there are more.
const (
	keyGap   = 2
	moreKeys = "… " + view.HelpKey
)

// drawKeys writes the keys from x on; where not all fit, as many as do, and the one that tells all others.
func (c *Canvas) drawKeys(keys []string, x, y int) {
	all := -keyGap
	for _, k := range keys {
		all += c.width(k) + keyGap
	}
	if x+all <= c.Width {
		for _, k := range keys {
			x = c.Text(x, y, k, view.Dim) + keyGap
		}
		return
	}
	help := moreKeys
	if x+c.width(keys[0])+keyGap+c.width(help) > c.Width {
		help = view.HelpKey[:1]
	}
	for _, k := range keys {
		if k == view.HelpKey {
			continue
		}
		if x+c.width(k)+keyGap+c.width(help) > c.Width {
			break
		}
		x = c.Text(x, y, k, view.Dim) + keyGap
	}
	if slices.Contains(keys, view.HelpKey) {
		c.Text(x, y, help, view.Dim)
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
