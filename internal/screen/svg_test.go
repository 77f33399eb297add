package screen

import (
	"fmt"
	"html"
	"os"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"

	"evendraw/internal/view"
)

func hex(c tcell.Color) string { return fmt.Sprintf("#%06x", c.Hex()) }

// svg draws a canvas as the README's picture.
func svg(c *Canvas) string {
	const wide, tall = 8.4, 17
	colour := map[view.Role]string{view.Plain: "#d8d8d8", view.Dim: "#888888", view.Strong: "#ffffff",
		view.Good: hex(bluishGreen), view.Warn: hex(vermilion), view.Bad: hex(vermilion)}
	var b strings.Builder
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %.0f %d\" font-family=\"monospace\" "+
		"font-size=\"14\">\n", wide*float64(c.Width)+16, tall*c.Height+16)
	b.WriteString("<title>The levelling view: turn screw 2-3 clockwise by three eighths of a turn</title>\n")
	b.WriteString("<rect width=\"100%\" height=\"100%\" fill=\"#101418\"/>\n")
	for y := range c.Height {
		for x := range c.Width {
			cell := c.At(x, y)
			left, top := 8+wide*float64(x), 8+float64(tall*y)
			switch {
			case cell.Rune == ' ':
			case cell.Rune == '█':
				fmt.Fprintf(&b, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%d\" fill=\"%s\"/>\n", left, top,
					wide+0.3, tall, colour[cell.Role])
			default:
				fmt.Fprintf(&b, "<text x=\"%.1f\" y=\"%.1f\" fill=\"%s\">%s</text>\n", left, top+13, colour[cell.Role],
					html.EscapeString(string(cell.Rune)))
			}
		}
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// The README's picture is what the program draws.
func TestReadmePicture(t *testing.T) {
	t.Parallel()
	v := states["turn"]
	c := NewCanvas(80, 24)
	Draw(c, &v)
	const path = "../../testdata/screen.svg"
	if *update {
		if err := os.WriteFile(path, []byte(svg(c)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := os.ReadFile(path); err != nil || string(got) != svg(c) {
		t.Errorf("%s is out of date (%v): go test ./internal/screen -update", path, err)
	}
}
