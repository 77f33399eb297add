package view

import (
	"fmt"

	"evendraw/internal/plain"
)

// Refusal says why a zero pass was refused.
func Refusal(err error) string { return "Zero refused: " + plain.Text(err.Error()) }

// MatchRefusal says why a match pass was refused.
func MatchRefusal(err error) string { return "Comparison refused: " + plain.Text(err.Error()) }

// bareWords offer the board program to a board that has none, or not ours.
func (v *View) bareWords() Words {
	switch b := &v.Bare; {
	case b.Busy && b.Done > 0:
		return toRead("WRITING", Strong,
			fmt.Sprintf("The board program is being written: %d %%. Leave the USB lead in.", b.Done))
	case b.Busy:
		return toRead("LOOKING", Strong, "Looking whether a program can be put on the board.")
	case b.Loses != "":
		return toRead("OVERWRITE?", Warn, plain.Text(b.Loses), "i writes evendraw's program on it, n leaves the board "+
			"as it is.")
	}
	return toRead("YOUR BOARD?", Warn, "Something is plugged in ("+plain.Text(v.Bare.Port)+"), but evendraw's board "+
		"program is not on it.", "If it is your board, press i to put that program on it; you are asked once more.")
}
