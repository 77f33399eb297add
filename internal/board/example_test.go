package board_test

import (
	"context"
	"errors"
	"fmt"

	"evendraw/internal/board"
)

// A board is opened; what a mechanic can cure comes with what to do about it.
func ExampleOpen() {
	link, err := board.Open(context.Background(), "/no/such/port", board.Options{Baud: 500000})
	if wrong := (*board.Error)(nil); errors.As(err, &wrong) {
		fmt.Println(wrong.Kind, "- a hint:", wrong.Hint() != "")
		return
	}
	defer link.Close()
	fmt.Println(link.Board().Serial) // a session reads on from the link
	// Output:
	// absent - a hint: true
}
