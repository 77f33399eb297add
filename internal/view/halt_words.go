package view

import (
	"fmt"
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/suspects"
)

// haltWords are those of a levelling that was stopped.
func haltWords(a *advice.Advice) (w Words, ok bool) {
	switch a.Why {
	case advice.WhyFar:
		w = words("LEAK?", Bad, fmt.Sprintf("Screw %s was turned about %s %s in all. A sound bank seldom needs so "+
			"much.", a.ScrewName, TurnsOf(math.Round(8*a.Turns)/8), a.Direction),
			"Engine off. Look for an air leak: "+suspects.Leak+". "+goOn)
	case advice.WhyIdleFell:
		w = words("IDLE LOW", Bad, "The idle has fallen by a fifth: raise it with the throttle stop. "+
			"When it is back, the levelling goes on by itself.",
			"An air leak can be the cause: "+suspects.Leak+". Or press g to go on as it is.")
	default:
		return w, false
	}
	w.Read = true // how to go on
	return w, true
}

// TurnsOf writes an amount of turns with its noun.
func TurnsOf(turns float64) string {
	f := fraction(turns)
	switch {
	case f == "1":
		return "one turn"
	case turns < 1:
		return f + " of a turn"
	}
	return f + " turns"
}
