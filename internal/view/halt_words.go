package view

import (
	"fmt"
	"math"

	"evendraw/internal/advice"
)

// Common practice, no source: in the order in which a mechanic looks.
const (
	// rebuildSuspects are the usual ones of a screw that nothing answers to, after a rebuild.
	rebuildSuspects = "Is it the right screw? Is its lock nut loose? Is the linkage spring in its place?"
	// illSuspects are those of a cylinder that no synchronising screw mends.
	illSuspects = "an air leak, a tight valve, low compression, a torn diaphragm or a perished hose"
	// leakSuspects are where air leaks in between butterfly and engine.
	leakSuspects = "boot, its clamp, the cap or hose of a port"
)

// haltWords are those of a levelling that was stopped.
func haltWords(a *advice.Advice) (w Words, ok bool) {
	switch a.Why {
	case advice.WhyFar:
		w = words("LEAK?", Bad, fmt.Sprintf("Screw %s was turned about %s %s in all. A sound bank seldom needs so "+
			"much.", a.ScrewName, TurnsOf(math.Round(8*a.Turns)/8), a.Direction),
			"Engine off. Look for an air leak: "+leakSuspects+". "+goOn)
	case advice.WhyIdleFell:
		w = words("IDLE LOW", Bad, "The idle has fallen by a fifth: raise it with the throttle stop. "+
			"When it is back, the levelling goes on by itself.",
			"An air leak can be the cause: "+leakSuspects+". Or press g to go on as it is.")
	default:
		return w, false
	}
	w.Read = true // how to go on
	return w, true
}

// DoubtWords say why a cylinder looked ill.
func DoubtWords(why advice.Why) string { return doubts[why] }

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

// HaltNotes say what a levelling was stopped for; far are the names of the screws that were turned too far.
func HaltNotes(far []string, idleFell bool) (notes []string) {
	for _, name := range far {
		notes = append(notes, fmt.Sprintf("screw %s was turned by more than two turns (an air leak?)", name))
	}
	if idleFell {
		notes = append(notes, "the idle fell by a fifth while screws were turned (an air leak?)")
	}
	return notes
}
