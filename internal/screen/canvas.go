package screen

import (
	"github.com/rivo/uniseg"

	"evendraw/internal/plain"
	"evendraw/internal/view"
)

// Cell is one place of a canvas. A letter of double width has rune 0 in the place after its own.
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

// runeWidth is the columns that a letter takes, 0, 1 or 2, by the table that the terminal library goes by.
func runeWidth(r rune) int {
	if r < 0x300 || r >= 0x2190 && r < 0x2E80 { // letters; arrows, lines, blocks and signs
		return 1
	}
	return min(uniseg.StringWidth(string(r)), 2)
}

// String returns the canvas's letters, rows ended by line ends, without trailing spaces.
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
