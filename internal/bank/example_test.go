package bank_test

import (
	"fmt"

	"evendraw/internal/bank"
)

// The usual four: two pairs, and a screw between them that moves a whole pair.
func Example() {
	b := bank.Default(4)
	for _, s := range b.Screws {
		fmt.Println(s.Name, "moves", s.Moves)
	}
	b.FiringOrder = []int{1, 2, 4, 4}
	fmt.Println(b.Check())
	// Output:
	// 1-2 moves [1]
	// 3-4 moves [4]
	// 2-3 moves [1 2]
	// firing_order: cylinder 4 is named twice
}
