package view

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/plain"
	"evendraw/internal/suspects"
)

// haltWords are those of a levelling that was stopped.
func haltWords(a *advice.Advice) (w Words, ok bool) {
	switch a.Why {
	case advice.WhyFar:
		return farWords(a), true
	case advice.WhyOneMisfires:
		return toRead(BigEngineOff, Bad, fmt.Sprintf("Cylinder %d misfires often, or one that fires near it: which "+
			"one can't be told.", a.Cylinder), "Engine off. Check "+suspects.Spark+", of all of these; then for an "+
			"air leak; then the mixture. "+goOn), true
	case advice.WhyOneSilent:
		return toRead(BigEngineOff, Bad, "The idle dropped at once, and no throttle was shut: has a cylinder stopped "+
			"firing? Don't raise the idle. Engine off. One pipe cooler? Look there: "+suspects.Spark+", and fuel.",
			"All fire? Start it and press g."), true
	case advice.WhyIdleFell:
		return toRead("IDLE LOW", Bad, "The idle has fallen by a fifth or more. One pipe cold? Engine off: "+
			suspects.Spark+". Else raise the idle with the throttle stop: then the levelling goes on by itself.",
			"An air leak can be the cause: "+suspects.Leak+". Or press g to go on as it is."), true
	}
	return w, false
}

// farWords are of a screw that was turned far. Nobody counts turns: they are reckoned from what it moved.
func farWords(a *advice.Advice) Words {
	if math.IsNaN(a.Turns) {
		return toRead("HOW FAR?", Warn, fmt.Sprintf("You have turned screw %s: about how many turns "+
			"in all?", strings.TrimSpace(a.ScrewName+" far "+string(a.Direction))),
			"Two or fewer: press g. More: engine off. "+suspects.Far+" "+goOn)
	}
	return toRead("LEAK?", Bad, fmt.Sprintf("Screw %s was turned about %s %s in all, reckoned by what it moved. A "+
		"sound bank seldom needs so much.", a.ScrewName, plain.TurnsOf(math.Round(4*a.Turns)/4), a.Direction),
		"Engine off. "+suspects.Far+" "+goOn)
}
