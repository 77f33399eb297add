package screen

import (
	"slices"
	"strings"

	"evendraw/internal/view"
)

// glyph is a large letter, five rows of marks.
type glyph = [bigRows]string

const bigRows = 5

// markSize is how many rows and columns a mark of the large letters takes; half
// puts two marks, one above the other, in a cell.
type markSize struct {
	rows, cols int
	half       bool
}

// height is the rows that a line of large letters takes.
func (s markSize) height() int {
	if s.half {
		return (bigRows + 1) / 2
	}
	return bigRows * s.rows
}

// gap is the rows left free after a line.
func (s markSize) gap() int {
	if s.half {
		return 0
	}
	return 1
}

// area is the size of a mark in half cells.
func (s markSize) area() int {
	if s.half {
		return s.cols
	}
	return 2 * s.rows * s.cols
}

// markSizes from the largest. Cells are twice as tall as wide.
var markSizes = []markSize{
	{rows: 6, cols: 12}, {rows: 5, cols: 10}, {rows: 4, cols: 8}, {rows: 4, cols: 6}, {rows: 3, cols: 6},
	{rows: 3, cols: 4}, {rows: 2, cols: 4}, {rows: 2, cols: 3}, {rows: 2, cols: 2}, {rows: 1, cols: 2}, {rows: 1,
		cols: 1},
	{rows: 1, cols: 1, half: true},
}

// bigLine is a line of large letters, and a small word beside it.
type bigLine struct {
	glyphs []glyph
	beside string
}

// marks is the width of a line in marks.
func (l *bigLine) marks() (n int) {
	for _, g := range l.glyphs {
		n += len(g[0]) + 1
	}
	return n
}

// arrangements are the ways to set the advice large; the poor ones are for where no good one fits.
func arrangements(p *view.Picture) (good, poor [][]bigLine) {
	name := view.Between(p.Big)
	if p.Arrow == 0 {
		whole := strings.TrimSpace(name + " " + p.Amount)
		good = [][]bigLine{{{glyphs: letters(whole)}}}
		if upper, lower, ok := halves(whole); ok {
			good = append(good, []bigLine{{glyphs: letters(upper)}, {glyphs: letters(lower)}})
		}
		return good, nil
	}
	if p.Screw != "" {
		return arrangeWord(p)
	}
	if p.Way != "" {
		return arrangeWay(p)
	}
	turn := withRing(letters(name), p.Arrow)
	word := arrowWord(p.Arrow)
	large := bigLine{glyphs: letters(strings.ToUpper(word))}
	if p.Amount == "" {
		return [][]bigLine{{{glyphs: turn}, large}},
			[][]bigLine{{{glyphs: turn, beside: word}}, {{glyphs: letters(name)}, {beside: word}}}
	}
	amount := letters(p.Amount)
	one := append(append(turn[:len(turn):len(turn)], fontOf[' '], fontOf[' ']), amount...)
	return [][]bigLine{{{glyphs: one}, large}, {{glyphs: turn}, {glyphs: amount}, large}},
		[][]bigLine{{{glyphs: turn}, {glyphs: amount, beside: word}}, {{glyphs: one, beside: word}}}
}

// arrangeWord are the arrangements of a word for the hand that is turning, with the screw's name, so that a
// glance finds both.
func arrangeWord(p *view.Picture) (good, poor [][]bigLine) {
	name, word, way := letters(view.Between(p.Screw)), letters(p.Big), arrowWord(p.Arrow)
	both := slices.Concat(name, letters("  "), word)
	ring, amount := bigLine{glyphs: withRing(name, p.Arrow)}, letters(strings.TrimRight("  "+p.Amount, " "))
	large, small := bigLine{glyphs: letters(strings.ToUpper(way))}, bigLine{glyphs: name, beside: way}
	good = [][]bigLine{{{glyphs: slices.Concat(ring.glyphs, amount)}, {glyphs: word}, large},
		{{glyphs: withRing(both, p.Arrow)}, large}, {{glyphs: both}, large}}
	poor = [][]bigLine{{ring, {glyphs: word, beside: strings.TrimSpace(way + " " + p.Amount)}}, {ring, {glyphs: word}}}
	if upper, lower, ok := halves(p.Big); ok {
		much := bigLine{glyphs: withRing(letters(lower), p.Arrow), beside: p.Amount}
		poor = append(poor, []bigLine{{glyphs: letters(upper)}, much, small})
	}
	return good, poor
}

// withRing adds the ring of a turn.
func withRing(line []glyph, arrow int) []glyph {
	ring := anticlockwiseGlyph
	if arrow > 0 {
		ring = clockwiseGlyph
	}
	return slices.Concat(line, letters(" "), []glyph{ring})
}

// arrangeWay are the arrangements of a turn whose way is a word of its own: a ring alone is misread.
func arrangeWay(p *view.Picture) (good, poor [][]bigLine) {
	word := arrowWord(p.Arrow)
	name, way := bigLine{glyphs: letters(p.Big)}, bigLine{glyphs: letters(p.Way + " " + p.Amount)}
	beside := way
	beside.beside = word
	return [][]bigLine{{name, way, {glyphs: letters(strings.ToUpper(word))}}},
		[][]bigLine{{name, beside}, {{glyphs: letters(p.Way + " " + p.Amount), beside: p.Big + " " + word}},
			{{glyphs: withRing(letters(p.Way), p.Arrow), beside: p.Big}, {glyphs: letters(p.Amount), beside: word}}}
}

// halves breaks a text at the space that leaves its halves most alike in length.
func halves(s string) (upper, lower string, ok bool) {
	best := len(s)
	for i, r := range s {
		if longer := max(i, len(s)-i-1); r == ' ' && longer < best {
			best, upper, lower, ok = longer, s[:i], s[i+1:], true
		}
	}
	return upper, lower, ok
}

func letters(s string) (out []glyph) {
	for _, r := range strings.ToUpper(s) {
		g, ok := fontOf[r]
		if !ok {
			g = fontOf['?']
		}
		out = append(out, g)
	}
	return out
}

func arrowWord(a int) string {
	if a > 0 {
		return "clockwise"
	}
	return "anticlockwise"
}

// sizesFor returns the sizes at which the lines fit in rows: none larger than markSizes[from],
// none larger than the line before, and each as large as the lines after it leave room for.
func (c *Canvas) sizesFor(lines []bigLine, rows, from int, half bool) (sizes []markSize, ok bool) {
	least := markSize{rows: 1, cols: 1, half: half}
	for i := range lines {
		rest := (len(lines) - 1 - i) * (least.height() + least.gap())
		n := slices.IndexFunc(markSizes[from:], func(s markSize) bool {
			return s.half == half && s.height()+rest <= rows && (i == 0 || s.height() <= sizes[i-1].height()) &&
				lines[i].marks()*s.cols+c.width(lines[i].beside)+2 <= c.Width
		})
		if n < 0 {
			return nil, false
		}
		from += n
		sizes = append(sizes, markSizes[from])
		rows -= markSizes[from].height() + markSizes[from].gap()
	}
	return sizes, true
}

// bigText is large text with the size of each of its lines.
type bigText struct {
	lines []bigLine
	sizes []markSize
	right bool // stands at the right edge: what is turned clockwise, so that an eye's corner tells the ways apart
}

// score rates the sizes: large marks are good, and so is none far smaller than the others.
func (b *bigText) score() (worth int) {
	least := b.sizes[0].area()
	for _, s := range b.sizes {
		worth += s.area()
		least = min(least, s.area())
	}
	return worth + 4*least
}

// height is the rows that the text takes, with what is left free after each line.
func (b *bigText) height() (rows int) {
	for _, s := range b.sizes {
		rows += s.height() + s.gap()
	}
	return rows
}

// setBig returns the arrangement of the advice that fits in rows and has the best score.
// Half marks are for where no other fits.
func (c *Canvas) setBig(p *view.Picture, rows int) (best bigText, ok bool) {
	good, poor := arrangements(p)
	marks := []bool{false, true}
	if c.ASCII {
		marks = marks[:1]
	}
	for _, half := range marks {
		for _, list := range [][][]bigLine{good, poor} {
			for _, lines := range list {
				for from := range markSizes {
					sizes, fits := c.sizesFor(lines, rows, from, half)
					if !fits {
						break
					}
					if b := (bigText{lines, sizes, p.Arrow > 0}); !ok || b.score() > best.score() {
						best, ok = b, true
					}
				}
			}
			if ok {
				return best, true
			}
		}
	}
	return best, false
}

// drawBig draws large text from row top on, and returns the row after it.
func (c *Canvas) drawBig(b *bigText, top int, role view.Role) int {
	for i, l := range b.lines {
		x := 1
		if b.right {
			x = max(c.Width-l.marks()*b.sizes[i].cols-c.width(l.beside)-1, 1)
		}
		x = c.drawLetters(l.glyphs, x, top, b.sizes[i], role)
		c.Text(x+1, top+b.sizes[i].height()/2, l.beside, role)
		top += b.sizes[i].height() + b.sizes[i].gap()
	}
	return top
}

// drawLetters draws a line of large letters from column x on and returns the column after it.
func (c *Canvas) drawLetters(line []glyph, x, top int, size markSize, role view.Role) int {
	for _, g := range line {
		for col := range len(g[0]) {
			for row := range bigRows {
				if size.half {
					c.setHalf(x+col, top, g, col, role)
				} else if g[row][col] == '#' {
					c.fill(x+col*size.cols, top+row*size.rows, size, role)
				}
			}
		}
		x += (len(g[0]) + 1) * size.cols
	}
	return x
}

// setHalf draws a column of a letter, two marks to a cell.
func (c *Canvas) setHalf(x, top int, g glyph, col int, role view.Role) {
	for row := 0; row < bigRows; row += 2 {
		upper := g[row][col] == '#'
		lower := row+1 < bigRows && g[row+1][col] == '#'
		switch {
		case upper && lower:
			c.Set(x, top+row/2, '█', role)
		case upper:
			c.Set(x, top+row/2, '▀', role)
		case lower:
			c.Set(x, top+row/2, '▄', role)
		}
	}
}

func (c *Canvas) fill(x, y int, size markSize, role view.Role) {
	for dy := range size.rows {
		for dx := range size.cols {
			c.Set(x+dx, y+dy, '█', role)
		}
	}
}
