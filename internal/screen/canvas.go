// Package screen draws a view: on a canvas of cells, which tests look at, and
// on a terminal. terminal.go is the only file that knows the terminal library.
//
// Draw fills a Canvas from a view; Terminal shows canvases and hands on keys.
package screen

import "evendraw/internal/view"

// Cell is one place of a canvas.
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
}

// NewCanvas returns an empty canvas of that size; negative sizes are 0.
func NewCanvas(width, height int) *Canvas {
	c := &Canvas{Width: max(width, 0), Height: max(height, 0)}
	c.cells = make([]Cell, c.Width*c.Height)
	c.Clear()
	return c
}

// Clear empties every cell.
func (c *Canvas) Clear() {
	for i := range c.cells {
		c.cells[i] = Cell{Rune: ' '}
	}
}

// At returns the cell in column x of row y.
func (c *Canvas) At(x, y int) Cell { return c.cells[y*c.Width+x] }

// Set writes one cell; places outside are ignored.
func (c *Canvas) Set(x, y int, r rune, role view.Role) {
	if x < 0 || y < 0 || x >= c.Width || y >= c.Height {
		return
	}
	if c.ASCII {
		r = plain(r)
	}
	c.cells[y*c.Width+x] = Cell{r, role}
}

// Text writes s from column x of row y, and returns the column after it.
func (c *Canvas) Text(x, y int, s string, role view.Role) int {
	for _, r := range s {
		c.Set(x, y, r, role)
		x++
	}
	return x
}

// String returns the canvas's letters, rows ended by line ends, without
// trailing spaces.
func (c *Canvas) String() string {
	out := make([]rune, 0, len(c.cells)+c.Height)
	for y := range c.Height {
		end := 0
		row := len(out)
		for x := range c.Width {
			r := c.At(x, y).Rune
			out = append(out, r)
			if r != ' ' {
				end = x + 1
			}
		}
		out = append(out[:row+end], '\n')
	}
	return string(out)
}

// ascii gives each sign that the screen uses a plain one.
var ascii = map[rune]rune{
	'█': '#', '─': '-', '│': '|', '◆': 'O', '◇': 'o', '·': '.', '┆': ':', '◂': '<', '▸': '>', '±': '~', '−': '-', '–': '-',
	'↑': '^', '↓': 'v', '←': '<', '→': '>', '┼': '+', '├': '|', '┤': '|', '…': '.',
}

func plain(r rune) rune {
	if p, ok := ascii[r]; ok {
		return p
	}
	if r > 0x7E {
		return '?'
	}
	return r
}
