package tell

import (
	"fmt"
	"math"

	"evendraw/internal/garage"
	"evendraw/internal/view"
)

// Corrected says that the last turn of a pilot screw counts as another than told, or that there is none to correct.
func Corrected(turns float64, ok bool) view.Event {
	if !ok {
		return view.Told{Text: "No turn of a pilot screw to correct.", Role: view.Warn}
	}
	way := "the way that was told"
	if turns < 0 {
		way = "the other way"
	}
	return view.Told{Text: "Counted as " + garage.FormatTurns(math.Abs(turns)) + " turns, " + way + "."}
}

// TooSoon is what an Enter gets that can't be of the turn that is told.
const TooSoon = "that Enter came too soon to be for this turn: press it when the turn is made"

// IdleTaken says that an idle speed was taken, and whether it stands on the bike's card.
func IdleTaken(low, high float64, kept bool) view.Event {
	text := fmt.Sprintf("Idle speed %.0f to %.0f rpm", low, high)
	if kept {
		text += ", kept on the bike's card"
	}
	return view.Told{Text: text + "."}
}
