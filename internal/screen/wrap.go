package screen

import (
	"strings"

	"evendraw/internal/view"
)

// wrapped breaks s at spaces into lines of at most width columns.
func (c *Canvas) wrapped(s string, width int) (lines []string) {
	line := ""
	for word := range strings.FieldsSeq(s) {
		word = c.clip(word, width)
		if line != "" && c.width(line)+1+c.width(word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// drawWrapped writes s from row y on, broken at spaces, in at most rows rows: as many of its sentences as fit; an
// ellipsis says where one is cut, and, if there is room for it, where some are left out.
func (c *Canvas) drawWrapped(x, y, rows int, s string, role view.Role) {
	lines := c.wrapped(s, c.Width-x)
	for end := len(s); len(lines) > rows && rows > 0; {
		if end = strings.LastIndex(s[:end], ". "); end < 0 {
			break
		}
		if whole := c.wrapped(s[:end+1], c.Width-x); len(whole) <= rows {
			if lines = whole; c.width(lines[len(lines)-1])+2 <= c.Width-x {
				lines[len(lines)-1] += " …"
			}
		}
	}
	if len(lines) > rows && rows > 0 {
		lines = lines[:rows]
		lines[rows-1] = c.clip(lines[rows-1]+" …", c.Width-x)
	}
	for i, line := range lines {
		c.Text(x, y+i, line, role)
	}
}

// clip cuts s to width columns.
func (c *Canvas) clip(s string, width int) string {
	if c.width(s) <= width {
		return s
	}
	if width <= 1 {
		return ""
	}
	n := 0
	for i, r := range s {
		if n += c.runeWidth(r); n > width-1 {
			return s[:i] + "…"
		}
	}
	return s
}
