package page_test

import (
	"image"
	"image/color"
	"image/png"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"evendraw/internal/effort"
	"evendraw/internal/page"
	"evendraw/internal/page/pagetest"
	"evendraw/internal/view"
)

// cells are shapes of a terminal's cells, in pixels.
var cells = [][2]int{{8, 16}, {7, 15}, {10, 18}, {12, 28}}

// photo is what a camera sees of the code on a terminal: its cells, amid others of a ground.
func photo(p *view.Phone, cell [2]int, ground color.Gray) image.Image {
	rows := p.Code
	const around = 3 // cells
	wide, tall := utf8.RuneCountInString(rows[0])+2*around, len(rows)+2*around
	m := image.NewGray(image.Rect(0, 0, wide*cell[0], tall*cell[1]))
	for i := range m.Pix {
		m.Pix[i] = ground.Y
	}
	fill := func(x, top, bottom int, ink bool) {
		for y := top; y < bottom; y++ {
			for dx := range cell[0] {
				m.SetGray((x+around)*cell[0]+dx, y+around*cell[1], color.Gray{map[bool]uint8{false: 255}[ink]})
			}
		}
	}
	for y, row := range rows {
		for x, r := range []rune(row) {
			top, half := y*cell[1], y*cell[1]+cell[1]/2
			fill(x, top, half, r == '█' || r == '▀')
			fill(x, half, top+cell[1], r == '█' || r == '▄')
		}
	}
	return m
}

// The code is read at every shape of cell, in light and in dark terminals, by a reader of codes
// that is not ours.
func TestCodeIsRead(t *testing.T) {
	t.Parallel()
	n := pagetest.NewNetwork()
	n.Anywhere = true
	longest := netip.MustParseAddr("192.168.178.123")
	s, err := page.Open(page.Options{Token: token, Listen: n.Listen,
		Addresses: func() []netip.Addr { return []netip.Addr{longest} }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	p := s.Phone()
	if len(p.Code) != 17 || utf8.RuneCountInString(p.Code[0]) != 33 { // 25 modules, and 4 of quiet on each side
		t.Fatalf("%d rows", len(p.Code))
	}
	effort.Need(t, "zbarimg", "zbar-tools")
	read := 0
	for _, cell := range effort.Of(cells[:1], cells) {
		for _, ground := range []color.Gray{{0}, {255}} {
			path := filepath.Join(t.TempDir(), "code.png")
			f, err := os.Create(path)
			if err != nil {
				t.Fatal(err)
			}
			if err := png.Encode(f, photo(&p, cell, ground)); err != nil {
				t.Fatal(err)
			}
			f.Close()
			out, err := exec.Command("zbarimg", "--quiet", "--raw", path).Output()
			if !strings.EqualFold(strings.TrimSpace(string(out)), p.Addresses[0]) {
				t.Errorf("cells of %v on %v: %q, %v", cell, ground, out, err)
				continue
			}
			read++
		}
	}
	t.Logf("count: %d pictures of the code, all read", read)
}
