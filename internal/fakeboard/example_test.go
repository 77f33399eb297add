package fakeboard_test

import (
	"fmt"
	"math/rand/v2"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// A line loses a tenth of a board's frames; the decoder knows of each.
func Example() {
	rec := fakeboard.Steady("INVENTED", 4, 1000)
	blocks, lost := fakeboard.Lossy(rand.New(rand.NewPCG(1, 2)), rec.Blocks(), 0.1)
	var d frame.Decoder
	drain := func() {
		for ok := true; ok; {
			_, ok = d.Next()
		}
	}
	d.Feed(fakeboard.Join(blocks))
	drain()
	d.Finish()
	drain()
	s := d.Stats()
	fmt.Println(lost > 50, int(s.Lost) == lost, int(s.Frames)+lost == 1000)
	// Output:
	// true true true
}
