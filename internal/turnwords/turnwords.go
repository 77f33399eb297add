// Package turnwords says why a hand at a synchronising screw is to stop, to go the other way, or to wait, in whole
// sentences: an advice comes in, what stands below the large words goes out. Begin with Stop.
package turnwords

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/suspects"
)

// Stop says why a hand is to stop.
func Stop(a *advice.Advice) []string {
	switch {
	case a.Part == advice.ThrottleStop:
		return []string{"Throttle stop: hand off while the speed settles."}
	case a.Why == advice.WhyNoAnswer && a.Answered:
		turn := "make the turn that was told"
		if a.Direction != advice.UnknownWay {
			turn += ", " + string(a.Direction)
		}
		return []string{fmt.Sprintf("Screw %s worked before; now no turn of it is seen. Not turned yet? No hurry: "+
			"%s, engine running. Turned, or not sure how much? Press g: the screen says what is left.",
			a.ScrewName, turn)}
	case a.Why == advice.WhyNoAnswer && a.Again:
		return []string{fmt.Sprintf("Screw %s not turned yet? No hurry: press g, then turn it. Turned, and again no "+
			"change? Turn it back to where it stood at first.", a.ScrewName),
			"Engine off: look at its arm and spring, then at the linkage and the butterfly. " +
				"Mended? Start it, press g."}
	case a.Why == advice.WhyNoAnswer:
		return []string{fmt.Sprintf("Screw %s not turned yet? No hurry: press g, then turn it. Turned as told? It "+
			"changed nothing: turn it back to where it was, then stop the engine.", a.ScrewName),
			suspects.Rebuild + " All good? Start it, press g.",
			"Still no change: a bent or worn linkage, or a butterfly that sticks."}
	}
	said, ok := map[advice.Why]string{advice.WhyAway: "it gets worse",
		advice.WhyFewCycles: "it works"}[a.Why]
	if !ok {
		said = "enough"
	}
	return []string{fmt.Sprintf("Screw %s: %s. Hand off while it settles.", a.ScrewName, said)}
}

// Play says, among what a level bank is in doubt for, that the linkage has play, by so much as a unit tells it; nothing
// for none.
func Play(play pressure.KPa, unit pressure.Unit) []string {
	if play == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the linkage: it has play, each blip moves the bank by %s %s, and no screw mends that "+
		"(a worn joint, a loose part, a weak spring)", unit.Format(play), unit.Name)}
}

// Away says the other way to a hand after whose turn it got worse. Whether that was made as told is not known.
func Away(a *advice.Advice) []string {
	by, was := " until STOP shows.", "clockwise"
	if !math.IsNaN(a.Turns) {
		by = " " + strings.TrimSuffix(plain.Amount(a.Turns), " of a turn") + ", then wait."
	}
	if a.Direction == advice.Clockwise {
		was = "anticlockwise"
	}
	return []string{fmt.Sprintf("Turn %s %s%s", a.ScrewName, a.Direction, by),
		"You were told " + was + ", and it got worse."}
}
