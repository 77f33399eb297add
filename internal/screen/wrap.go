package screen

import (
	"strings"
	"unicode/utf8"

	"evendraw/internal/view"
)

// wrapped breaks s at spaces into lines of at most width columns.
func wrapped(s string, width int) (lines []string) {
	line := ""
	for _, word := range strings.Fields(s) {
		word = clip(word, width)
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
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

// wrap writes s from row y on, broken at spaces, in at most rows rows.
func wrap(c *Canvas, x, y, rows int, s string, role view.Role) {
	for i, line := range wrapped(s, c.Width-x) {
		if i < rows {
			c.Text(x, y+i, line, role)
		}
	}
}
