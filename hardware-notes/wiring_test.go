// Package hardwarenotes draws the wiring: wiring.svg is made of wiring.txt.
package hardwarenotes

import (
	"flag"
	"fmt"
	"html"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write wiring.svg anew")

// A character's cell, in units of the drawing.
const cellW, cellH = 9, 18

// isWire reports whether a character of the text is part of a line.
func isWire(c byte) bool { return strings.IndexByte("-|o.'=", c) >= 0 }

type drawing []string

func (d drawing) at(row, col int) byte {
	if row < 0 || row >= len(d) || col < 0 || col >= len(d[row]) {
		return ' '
	}
	return d[row][col]
}

// svg turns the text into a picture: - and | are lines, . and ' corners, o a
// joint, === a capacitor; all else stays text.
func (d drawing) svg() string {
	width := 0
	for _, line := range d {
		width = max(width, len(line))
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" `+
		`font-family="monospace" font-size="15">`+"\n"+
		`<rect width="100%%" height="100%%" fill="#fff"/>`+"\n", (width+1)*cellW, (len(d)+1)*cellH)
	for row, line := range d {
		for col := 0; col < len(line); {
			if word := d.word(row, col); word != "" {
				fmt.Fprintf(&b, `<text x="%d" y="%d" textLength="%d">%s</text>`+"\n", col*cellW, row*cellH+cellH,
					len(word)*cellW, html.EscapeString(word))
				col += len(word)
				continue
			}
			b.WriteString(d.mark(row, col))
			col++
		}
	}
	return b.String() + "</svg>\n"
}

// word returns the text that begins at a place, "" where there is a mark or
// nothing. Marks inside words, as in "0.5", belong to them.
func (d drawing) word(row, col int) string {
	letter := func(col int) bool {
		c := d.at(row, col)
		return c != ' ' && !isWire(c)
	}
	partOf := func(col int) bool {
		c := d.at(row, col)
		return letter(col) || c != ' ' && c != '|' && (letter(col-1) || letter(col+1)) && c != '-' && c != '='
	}
	if !partOf(col) || !letter(col) && !(letter(col+1) && d.at(row, col) == 'o') {
		return ""
	}
	end := col
	for partOf(end) || d.at(row, end) == ' ' && partOf(end+1) && end > col {
		end++
	}
	return d[row][col:end]
}

// mark draws one character that is no text.
func (d drawing) mark(row, col int) string {
	x, y := col*cellW+cellW/2, row*cellH+cellH*2/3
	line := func(x1, y1, x2, y2 int) string {
		return fmt.Sprintf(`<line x1="%d" y1="%d" x2="%d" y2="%d" stroke="#000" stroke-width="1.6"/>`+"\n", x1, y1, x2,
			y2)
	}
	left, right, up, down := x-cellW/2-1, x+cellW/2+1, y-cellH/2, y+cellH/2
	switch d.at(row, col) {
	case '-':
		return line(left, y, right, y)
	case '|':
		return line(x, up, x, down)
	case '.':
		return line(x, y, x, down) + d.side(row, col, line, x, y, left, right)
	case '\'':
		return line(x, up, x, y) + d.side(row, col, line, x, y, left, right)
	case '=':
		if d.at(row, col-1) == '=' && d.at(row, col+1) == '=' && d.at(row, col-2) != '-' {
			return line(x-cellW, y-3, x+cellW, y-3) + line(x-cellW, y+3, x+cellW, y+3) + line(x, up, x, y-3) +
				line(x, y+3, x, down)
		}
		if d.at(row, col-1) == '=' && d.at(row, col+1) == '=' { // lying in a line
			return line(x-3, y-8, x-3, y+8) + line(x+3, y-8, x+3, y+8) + line(x-cellW-4, y, x-3, y) +
				line(x+3, y, x+cellW+4, y)
		}
	case 'o':
		s := fmt.Sprintf(`<circle cx="%d" cy="%d" r="3.2"/>`+"\n", x, y) + d.side(row, col, line, x, y, left, right)
		if strings.IndexByte("|=.", d.at(row-1, col)) >= 0 {
			s += line(x, up, x, y)
		}
		if strings.IndexByte("|='", d.at(row+1, col)) >= 0 {
			s += line(x, y, x, down)
		}
		return s
	}
	return ""
}

// side draws the halves to where a line goes on.
func (d drawing) side(row, col int, line func(x1, y1, x2, y2 int) string, x, y, left, right int) (s string) {
	if d.at(row, col-1) == '-' {
		s += line(left, y, x, y)
	}
	if d.at(row, col+1) == '-' {
		s += line(x, y, right, y)
	}
	return s
}

func TestWiringPicture(t *testing.T) {
	text, err := os.ReadFile("wiring.txt")
	if err != nil {
		t.Fatal(err)
	}
	got := drawing(strings.Split(strings.TrimRight(string(text), "\n"), "\n")).svg()
	if *update {
		if err := os.WriteFile("wiring.svg", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("wiring.svg")
	if err != nil || string(want) != got {
		t.Errorf("wiring.svg is not what wiring.txt says (%v): go test ./hardware-notes -update", err)
	}
}
