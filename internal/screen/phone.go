package screen

import "evendraw/internal/view"

// drawPhone draws under which address the page is reached, and the code of it beside that, where
// there is room and there are half blocks.
func (c *Canvas) drawPhone(p *view.Phone, top, bottom int) {
	left, below, shown := 1, 0, false
	if rows := p.Code; len(rows) > 0 && len(rows) <= bottom-top+1 && !c.ASCII {
		wide := c.width(rows[0])
		if wide+c.width(p.Addresses[0])+2 <= c.Width {
			left = wide + 2
		} else {
			below = len(rows) // narrow: the words come below, as far as there is room
		}
		if shown = wide <= c.Width; shown {
			for i, row := range rows {
				c.Text(0, top+i, row, view.Code)
			}
		} else {
			below = 0
		}
	}
	y := top + below
	write := func(text string, role view.Role) {
		for _, line := range c.wrapped(text, c.Width-left) {
			if y <= bottom {
				c.Text(left, y, line, role)
			}
			y++
		}
	}
	if below == 0 {
		write(view.PhoneWords, view.Plain)
	}
	for _, a := range p.Addresses {
		write(a, view.Strong)
	}
	switch {
	case shown || len(p.Code) == 0:
	case c.ASCII:
		write(view.NoCodeSigns, view.Plain)
	default:
		write(view.NoCodeRoom, view.Plain)
	}
	for _, w := range p.Words {
		write(w, view.Plain)
	}
}
