package card_test

import (
	"fmt"

	"evendraw/internal/card"
)

// A value is changed in a text that somebody else has written.
func Example() {
	c, err := card.Parse([]byte("# mine\nname = 'x'  # short\nturns = 2\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(c.Root().Text("name", 100), c.Root().Whole("turns", 0), c.Err())
	text, err := c.Edit(card.Set("", "turns", "3"))
	fmt.Printf("%s%v\n", text, err)
	// Output:
	// x 2 <nil>
	// # mine
	// name = 'x'  # short
	// turns = 3
	// <nil>
}
