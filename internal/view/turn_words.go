package view

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/plain"
	"evendraw/internal/turnwords"
)

// turnSentences says how a screw is to be turned.
func (v *View) turnSentences(a *advice.Advice) []string {
	way := cmp.Or(string(a.Direction), "the same way")
	screw := fmt.Sprintf("screw %s %s", a.ScrewName, way)
	notes := []string{v.farLowNote(), v.betweenNote(a.Screw), v.besideNote(a.Screw),
		v.referenceNote(a.Screw)}
	switch a.Why {
	case advice.WhyTry:
		then, screw := "It shows which way helps.", screw+" "+plain.Amount(a.Turns)
		try := fmt.Sprintf("%s %s, then wait.", v.afterNut("Try", a.Screw), screw)
		switch {
		case a.Again:
			try = fmt.Sprintf("Nothing seen yet: try %s from where it is now, then wait.", screw)
		case v.mayBeMade(a.Turns):
			then = turnedIt
		}
		return append([]string{try, then}, notes...)
	case advice.WhyKeepOn:
		if a.Turns < plain.Hair {
			return []string{fmt.Sprintf("Good. Screw %s %s: a hair more, then wait.", a.ScrewName, way)}
		}
		if !math.IsNaN(a.Turns) {
			return []string{fmt.Sprintf("Good. Screw %s %s: go on to the full %s, then wait.", a.ScrewName, way,
				strings.TrimPrefix(plain.Amount(a.Turns), "by ")) + lastNote(a)}
		}
		if a.Direction == advice.UnknownWay {
			return []string{fmt.Sprintf("Good. Screw %s: go on until it stands as before your last turn, then hand "+
				"off and wait.", a.ScrewName)}
		}
		return []string{fmt.Sprintf("Good. Keep turning %s, until told to stop.", screw) + lastNote(a)}
	case advice.WhySlower:
		return []string{fmt.Sprintf("Too quick. Keep turning %s until STOP shows, but slower: a quarter turn takes "+
			"4 seconds.", screw)}
	case advice.WhySameWay:
		return []string{fmt.Sprintf("Good. Screw %s once more the way that you have just turned it, %s, then wait.",
			a.ScrewName, plain.Amount(a.Turns)) + lastNote(a)}
	case advice.WhyTurnBack:
		if !math.IsNaN(a.Turns) {
			return []string{fmt.Sprintf("Screw %s, too far: turn it back %s, then wait.", a.ScrewName,
				plain.Amount(a.Turns))}
		}
		return []string{fmt.Sprintf("Turn screw %s back by what you turned it last, then hand off and wait.",
			a.ScrewName), "One turn went the other way than told, or a hose moved. Which way you turned it last, " +
			"only you know."}
	case advice.WhyAway:
		return turnwords.Away(a)
	}
	then := thenHandOff
	switch {
	case math.IsNaN(a.Turns):
		then = "Glance up often: the screen says STOP."
	case v.mayBeMade(a.Turns):
		then = turnedIt
	}
	from, turn := "", v.afterNut("Turn", a.Screw)
	if v.nutOpen(a.Screw) && !math.IsNaN(a.Turns) { // what was told of it before is done with
		from = " from where it is now"
	}
	return append([]string{fmt.Sprintf("%s %s, %s%s.", turn, screw, plain.Amount(a.Turns), from), then}, notes...)
}

// turnedIt keeps a hand that reads an amount again from making it again.
const turnedIt = "Turned it? Don't turn it twice: hand off and wait."

// How long an amount stands until a hand may have made it: to read, reach and loosen, s, and a turn's, s. Chosen: a
// slow hand's.
const reachSeconds, turnSeconds = 6, 8

// mayBeMade reports whether the amount that is told has stood for so long that a hand may have made it.
func (v *View) mayBeMade(turns float64) bool {
	h, stood := &v.hold, v.Now.Sub(v.hold.since).Seconds()
	return !h.since.IsZero() && h.words.Amount == plain.Large(turns) && stood > reachSeconds+turnSeconds*turns
}

// farLow is by how many limits one cylinder's vacuum must be below all others' for a leak to be suspected first.
// Chosen: screws that stand off after a rebuild seldom do that.
const farLow = 3

// farLowNote asks whether a cylinder far below all others was looked at for a leak, "" where there is none.
func (v *View) farLowNote() string {
	r := v.reading()
	if r == nil {
		return ""
	}
	low, next, at := math.Inf(1), math.Inf(1), 0
	for _, c := range r.Cylinders {
		switch d := float64(c.Draw); {
		case d < low:
			low, next, at = d, low, c.Cylinder
		case d < next:
			next = d
		}
	}
	if apart := next - low; !(apart > farLow*float64(v.Limit)) || math.IsInf(next, 1) {
		return ""
	}
	return fmt.Sprintf("Cylinder %d is far low: were its boot, clamp and port plug looked at?", at)
}

// betweenNote says why the screw between two sides comes before those of a side that is not level, "" where both are.
func (v *View) betweenNote(screw int) string {
	r := v.reading()
	if r == nil || screw < 0 || screw >= len(v.Snap.Bank.Screws) || len(v.Snap.Bank.Screws[screw].Moves) < 2 ||
		r.Loose>>screw&1 == 1 { // it was begun with
		return ""
	}
	for _, side := range []bool{true, false} {
		low, high := math.Inf(1), math.Inf(-1)
		for _, c := range r.Cylinders {
			if d := float64(c.Draw); v.Snap.Bank.Moves(screw, c.Cylinder) == side && !math.IsNaN(d) {
				low, high = min(low, d), max(high, d)
			}
		}
		if high-low > float64(v.Aim) {
			return "The cylinders on its two sides differ most, so it comes now; other screws follow."
		}
	}
	return ""
}

// besideNote says why the screw of a cylinder that reads level is turned, "" where it is not so.
func (v *View) besideNote(screw int) string {
	r := v.reading()
	own, beside, then, ok := v.Snap.Bank.Beside(screw)
	off := func(c int) bool { return math.Abs(float64(r.Cylinders[c-1].Difference)) > float64(v.Aim) }
	if r == nil || !ok || max(own, beside) > len(r.Cylinders) || off(own) || !off(beside) {
		return ""
	}
	return fmt.Sprintf("Cylinder %d is made like %d first; screw %s then moves both.", own, beside, plain.Text(then))
}

// nutOpen reports whether a screw's lock nut counts as loose.
func (v *View) nutOpen(screw int) bool {
	r := v.reading()
	return r == nil || screw < 0 || r.Loose>>screw&1 == 1
}

// afterNut begins a sentence with what is done to a screw, before it the lock nut where that may not be open.
func (v *View) afterNut(verb string, screw int) string {
	switch lately := !v.nutAt.IsZero() && v.nutScrew == screw && v.Now.Sub(v.nutAt) < nutGrace; {
	case !v.nutOpen(screw):
		return "Loosen the lock nut, then " + strings.ToLower(verb)
	case lately: // a spanner may have been at it
		return "Lock nut tight again? Loosen it, then " + strings.ToLower(verb)
	}
	return verb
}

// referenceNote warns that the screw moves the reference cylinder, whose own mark stays while the
// others move; "" where it does not.
func (v *View) referenceNote(screw int) string {
	r := v.reading()
	if r == nil || v.ByMean || v.Alone || screw < 0 || screw >= len(v.Snap.Bank.Screws) ||
		!v.Snap.Bank.Moves(screw, r.Reference) {
		return ""
	}
	var others []int
	for c := 1; c <= v.Snap.Bank.Cylinders; c++ {
		if !v.Snap.Bank.Moves(screw, c) {
			others = append(others, c)
		}
	}
	return fmt.Sprintf("Cylinder %d is the reference: its mark stays, and %s move.", r.Reference,
		plain.AndNumbers(others))
}
