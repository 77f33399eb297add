package view

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/plain"
)

// besideDash is a dash between figures, as in the name of a screw between two carburettors.
var besideDash = regexp.MustCompile(`(\d)[-/–](\d)`)

// Between writes a screw's name for large letters: "1↔2" for "1-2", which beside "1/2" of a turn is misread.
func Between(name string) string { return besideDash.ReplaceAllString(name, "$1↔$2") }

// Words are what a screen says: a few large letters, an arrow before an amount, and sentences.
type Words struct {
	Big, Amount string
	Screw       string // the screw's name, where the large word is none
	Way         string // IN or OUT, before the amount
	Arrow       int    // +1 clockwise, -1 anticlockwise, 0 none
	Role        Role
	Say         []string
	// Read is set where the sentences matter more than the large letters.
	Read bool
}

// words returns Words without arrow and amount, of the sentences that are not empty.
func words(big string, role Role, say ...string) Words {
	return Words{Big: big, Role: role, Say: slices.DeleteFunc(say, func(s string) bool { return s == "" })}
}

// toRead returns Words whose sentences matter more than the large letters.
func toRead(big string, role Role, say ...string) Words {
	w := words(big, role, say...)
	w.Read = true
	return w
}

// thenHandOff says when to take the hand off a screw that is turned by an amount.
const thenHandOff = "Hand off when done, or at once if STOP shows."

// idleWords says what the throttle stop wants.
func idleWords(s *mixture.IdleState) Words {
	switch a := &s.Advice; a.Kind {
	case advice.Turn:
		w := words("IDLE", Strong, fmt.Sprintf("Idle %s. Turn the throttle stop %s, %s.", lowOrHigh(s, a.Why),
			a.Direction, plain.Amount(a.Turns)), thenHandOff)
		w.Amount, w.Arrow = plain.Fraction(a.Turns), arrow(a.Direction)
		if a.Why == advice.WhyTry {
			w.Say[1] = "What it does is not seen yet: glance up, STOP may show sooner."
		}
		if a.Again {
			w.Say[1] = "Nothing seen yet: if you turned it already, that much more."
		}
		return w
	case advice.Reverse:
		w := words(BigOtherWay, Warn, fmt.Sprintf("Got worse: now turn the throttle stop %s.", a.Direction))
		w.Arrow = arrow(a.Direction)
		return w
	case advice.Stop:
		return words(BigStop, Warn, "Hand off the throttle stop: the speed takes some seconds to settle.")
	case advice.Done:
		if s.AboutRPM > 0 {
			return words("IDLE OK", Good, fmt.Sprintf("The idle is %.0f rpm, about the %.0f that it was when the trim "+
				"began.", s.RPM, s.AboutRPM))
		}
		return words("IDLE OK", Good, fmt.Sprintf("The idle is %.0f rpm, within %.0f to %.0f.", s.RPM, s.LowRPM,
			s.HighRPM))
	}
	return waitWords(s.Advice.Why)
}

// lowOrHigh says on which side of its range the idle is, as far as is known with its figures.
func lowOrHigh(s *mixture.IdleState, why advice.Why) string {
	way := "low"
	if s.Side == mixture.Above || why == advice.WhyHigh {
		way = "high"
	}
	if math.IsNaN(s.RPM) || math.IsNaN(s.LowRPM) {
		return way
	}
	if s.AboutRPM > 0 { // nobody gave a range
		return fmt.Sprintf("%s: %.0f rpm; it was about %.0f when the trim began", way, s.RPM, s.AboutRPM)
	}
	if rpm := math.Round(s.RPM); rpm >= s.LowRPM && rpm <= s.HighRPM {
		return fmt.Sprintf("hardly within its range, and may wander out: %s, %.0f rpm of %.0f to %.0f", way, s.RPM,
			s.LowRPM, s.HighRPM)
	}
	return fmt.Sprintf("%s: %.0f rpm; it should be %.0f to %.0f", way, s.RPM, s.LowRPM, s.HighRPM)
}

// waitWords say what is waited for.
func waitWords(why advice.Why) Words {
	if why == advice.WhyNoCycle {
		return startWords()
	}
	say := map[advice.Why]string{advice.WhyNotSteady: "The speed is moving: let it settle.",
		advice.WhyNoRange: "The bike's card holds no idle speed: the maker's manual gives it.",
		advice.WhyRest:    "Too little idling time is left for the next pilot screw: stop the engine and let it cool.",
		advice.WhyBase:    "Hands off: the speed before the first turn is read."}[why]
	return words("WAIT", Dim, cmp.Or(say, "Hands off for some seconds: the speed is read."))
}

// TrimWords says what the pilot screws want.
func TrimWords(s *mixture.TrimState, idle *mixture.IdleState) Words {
	a := &s.Advice
	if a.Part == advice.ThrottleStop {
		return idleWords(idle)
	}
	name := fmt.Sprintf("PILOT %d", a.Cylinder)
	if a.Why == advice.WhyRest {
		return restWords(s)
	}
	switch a.Kind {
	case advice.Turn:
		if a.Turns == 0 {
			return words(name, Dim, fmt.Sprintf("Pilot screw %d stays where it is.", a.Cylinder))
		}
		w := words(name, Strong, fmt.Sprintf("Pilot screw %d %s (%s), %s%s. Enter when it is turned.", a.Cylinder,
			a.Direction, pilotwords.InOrOut(a.Direction), plain.Amount(a.Turns), richer(s)))
		if a.Direction == advice.Clockwise {
			w.Say = append(w.Say, offSeat(s))
		}
		w.Say, w.Read = append(w.Say, farther(s)...), s.Far() // before what may find no room
		w.Way, w.Amount = strings.ToUpper(pilotwords.InOrOut(a.Direction)), plain.Fraction(a.Turns)
		w.Arrow = arrow(a.Direction)
		switch a.Why {
		case advice.WhyTurned:
			return turnedWords(s, a)
		case advice.WhySet:
			w.Role = Good
			set := *s.Current()
			set.Found, set.Open, set.Moved = s.Ending, 0, s.Goal
			w.Say = append(w.Say, pilotwords.Result(&set))
		case advice.WhyBack:
			w.Role = Warn
			w.Say = append(w.Say, "The speed fell too far at that setting: it won't be tried again.")
		case advice.WhyStalled:
			w.Role = Warn
			w.Say = append(w.Say, "The engine stopped at that setting: it won't be tried again.")
		}
		w.Say = append(w.Say, "The exhaust is hot: mind your hand.")
		return w
	case advice.Hold:
		w := words("HANDS OFF", Dim, pilotwords.HandsOff(s)...)
		w.Amount = plain.Clock(s.LeftS)
		return w
	case advice.Done:
		return words("ALL SET", Good, "All pilot screws are set. Look at the levelling again: the trim moves it.")
	}
	w := waitWords(a.Why)
	if s.Anew {
		w.Say = pilotwords.HandsOff(s)
	}
	if a.Why == advice.WhyBase && s.Left > 0 {
		w.Say = append(w.Say, pilotwords.Takes(s.Left, s.Pilots[:s.Cylinders]))
	}
	return w
}

// restWords say that the engine is to stand before the next screw.
func restWords(s *mixture.TrimState) Words {
	done := 0
	for i := range s.Cylinders {
		if s.Pilots[i].Found.Final() {
			done++
		}
	}
	return words(BigEngineOff, Warn, fmt.Sprintf("%d of %d pilot screws are done: the engine is to cool before "+
		"the others. Your place in the job is kept.", done, s.Cylinders))
}

// offSeat warns of the needle's seat.
func offSeat(s *mixture.TrimState) string {
	if math.IsNaN(s.Current().StartOut) {
		return "How far out it stood isn't noted: count as you turn. Lightly seated is the end: stop there, then c."
	}
	return "Never force it onto its seat."
}

// turnedWords ask whether a turn was made that nobody has confirmed and the speed does not show.
func turnedWords(s *mixture.TrimState, a *advice.Advice) Words {
	say := fmt.Sprintf("Pilot screw %d %s, %s: is it made? The speed alone does not tell. Press Enter once it is "+
		"turned; don't turn it twice.", a.Cylinder, pilotwords.InOrOut(a.Direction), plain.Amount(a.Turns))
	w := words("TURNED?", Warn, append(append([]string{say}, farther(s)...), pilotwords.OtherAmount)...)
	w.Read = s.Far()
	return w
}

// farther says why a turn leads further than 3/4 from where the screw stood, if it does.
func farther(s *mixture.TrimState) []string {
	if !s.Far() {
		return nil
	}
	why := "the best speed is that way."
	if s.Step == mixture.StepSet {
		why = "the best setting is that far off."
	}
	return []string{"More than 3/4 of a turn from where it stood: " + why}
}

// richer says which way a turn moves the mixture, where it is known.
func richer(s *mixture.TrimState) string {
	if !s.RicherKnown {
		return ""
	}
	return map[bool]string{true: ", richer", false: ", leaner"}[s.Richer]
}
