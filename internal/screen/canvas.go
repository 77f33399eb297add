package screen

import (
	"unicode"

	"evendraw/internal/plain"
	"evendraw/internal/view"
)

// Cell is one place of a canvas. A letter of double width has rune 0 in the place
// after its own.
type Cell struct {
	Rune rune
	Role view.Role
}

// Canvas is a grid of cells.
type Canvas struct {
	Width, Height int
	cells         []Cell
	// ASCII keeps to plain ASCII.
	ASCII bool
	tall  bool // the lines that can be spared are drawn
}

// NewCanvas returns an empty canvas of that size; negative sizes are 0.
func NewCanvas(width, height int) *Canvas {
	c := &Canvas{}
	c.Resize(width, height)
	return c
}

// Resize gives the canvas another size and empties it.
func (c *Canvas) Resize(width, height int) {
	c.Width, c.Height = max(width, 0), max(height, 0)
	if n := c.Width * c.Height; n <= cap(c.cells) {
		c.cells = c.cells[:n]
	} else {
		c.cells = make([]Cell, n)
	}
	c.Clear()
}

// Clear empties every cell.
func (c *Canvas) Clear() {
	for i := range c.cells {
		c.cells[i] = Cell{Rune: ' '}
	}
}

// At returns the cell in column x of row y.
func (c *Canvas) At(x, y int) Cell { return c.cells[y*c.Width+x] }

// Set writes one letter. It ignores places outside the canvas, a letter of double width
// that does not fit, and a letter without width.
func (c *Canvas) Set(x, y int, r rune, role view.Role) {
	if plain.Steers(r) {
		r = '.'
	}
	if c.ASCII {
		r = plainRune(r)
	}
	wide := runeWidth(r)
	if x < 0 || y < 0 || x+wide > c.Width || y >= c.Height || wide == 0 {
		return
	}
	at := &c.cells[y*c.Width+x]
	if at.Rune == 0 && x > 0 { // the second half of a wide letter: its first goes too
		c.cells[y*c.Width+x-1].Rune = ' '
	}
	*at = Cell{r, role}
	if wide == 2 {
		c.cells[y*c.Width+x+1] = Cell{0, role}
	}
}

// Text writes s from column x of row y, and returns the column after it.
func (c *Canvas) Text(x, y int, s string, role view.Role) int {
	for _, r := range s {
		c.Set(x, y, r, role)
		x += c.runeWidth(r)
	}
	return x
}

// width is the columns that s takes.
func (c *Canvas) width(s string) (n int) {
	for _, r := range s {
		n += c.runeWidth(r)
	}
	return n
}

func (c *Canvas) runeWidth(r rune) int {
	if c.ASCII && runeWidth(r) > 0 {
		return 1
	}
	return runeWidth(r)
}

// wideLetters take two columns: the East Asian scripts, full-width forms and
// pictographs. After Unicode Standard Annex 11, in broad strokes; checked
// against a full table in the tests.
var wideLetters = &unicode.RangeTable{
	R16: []unicode.Range16{
		{Lo: 0x1100, Hi: 0x115F, Stride: 1}, {Lo: 0x2E80, Hi: 0x303E, Stride: 1}, {Lo: 0x3041, Hi: 0x33FF, Stride: 1},
		{Lo: 0x3400, Hi: 0x4DBF, Stride: 1}, {Lo: 0x4E00, Hi: 0xA4CF, Stride: 1}, {Lo: 0xA960, Hi: 0xA97F, Stride: 1},
		{Lo: 0xAC00, Hi: 0xD7A3, Stride: 1}, {Lo: 0xF900, Hi: 0xFAFF, Stride: 1}, {Lo: 0xFE30, Hi: 0xFE6F, Stride: 1},
		{Lo: 0xFF01, Hi: 0xFF60, Stride: 1}, {Lo: 0xFFE0, Hi: 0xFFE6, Stride: 1},
	},
	R32: []unicode.Range32{
		{Lo: 0x16FE0, Hi: 0x1B2FF, Stride: 1}, {Lo: 0x1F300, Hi: 0x1F64F, Stride: 1}, {Lo: 0x1F680, Hi: 0x1F6FF,
			Stride: 1},
		{Lo: 0x1F900, Hi: 0x1F9FF, Stride: 1}, {Lo: 0x20000, Hi: 0x3FFFD, Stride: 1},
	},
}

// runeWidth is the columns that a letter takes: 0, 1 or 2.
func runeWidth(r rune) int {
	switch {
	case r < 0x300, r >= 0x2190 && r < 0x2E80: // letters; arrows, lines, blocks and signs
		return 1
	case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		return 0
	case unicode.Is(wideLetters, r):
		return 2
	}
	return 1
}

// String returns the canvas's letters, rows ended by line ends, without
// trailing spaces.
func (c *Canvas) String() string {
	out := make([]rune, 0, len(c.cells)+c.Height)
	for y := range c.Height {
		end := len(out)
		for x := range c.Width {
			r := c.At(x, y).Rune
			if r == 0 {
				continue
			}
			out = append(out, r)
			if r != ' ' {
				end = len(out)
			}
		}
		out = append(out[:end], '\n')
	}
	return string(out)
}

// ascii has a plain sign for each sign that the screen uses.
var ascii = map[rune]rune{
	'█': '#', '─': '-', '│': '|', '◆': 'O', '◇': 'o', '·': '.', '┆': ':', '◂': '<', '▸': '>', '±': '~',
	'−': '-', '–': '-', '↑': '^', '↓': 'v', '←': '<', '→': '>', '…': '.', '•': 'o', '°': 'd', '┴': '+',
	'▁': '_', '▂': '_', '▃': '.', '▄': '-', '▅': '-', '▆': '=', '▇': '=',
}

func plainRune(r rune) rune {
	if p, ok := ascii[r]; ok {
		return p
	}
	if r > 0x7E {
		return '?'
	}
	return r
}
