package tell

import (
	"fmt"
	"io"

	"evendraw/internal/view"
)

// PageAddresses tells where the page for phones is.
func PageAddresses(w io.Writer, p *view.Phone) {
	fmt.Fprintln(w, view.PhoneWords)
	for _, a := range p.Addresses {
		fmt.Fprintln(w, "  "+a)
	}
}

// PageCode draws the code of the page's address on a terminal, black on white whatever its colours
// are: a scanner reads no inverted one. w is the terminal itself. The colours are 16 and 231 of
// the 256, black and white in every palette of them.
func PageCode(w io.Writer, p *view.Phone) {
	for _, row := range p.Blocks() {
		fmt.Fprintf(w, "\x1b[38;5;16;48;5;231m%s\x1b[0m\n", row)
	}
}
