package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"evendraw/internal/heat"
	"evendraw/internal/plain"
)

// What becomes of the job while the engine cools; a practice engine is a new one at each start.
const (
	placeKept   = "Your place in the job is kept."
	practiceWay = "No wish to wait? This is practice: press q, then start the program again. You get another " +
		"engine, a cool one."
)

// HeatWords say that the engine is to stand, or how long it cools yet; ok is false while it may idle.
func HeatWords(h *heat.State) (w Words, ok bool) {
	switch {
	case !h.Hot:
		return w, false
	case h.Turning:
		ran, most := plain.Clock(math.Floor(h.Seconds)), plain.Clock(h.LimitS())
		if h.Seconds < h.LimitS() {
			return words(BigEngineOff, Bad, "It has idled for "+ran+" of "+most+": too little is left for "+
				"this step.", "Stop the engine and let it cool. "+placeKept), true
		}
		return words(BigEngineOff, Bad, "Stop the engine and let it cool: it has idled for "+ran+", and "+most+
			" is the most. "+placeKept, "That "+most+" is a guess, unless you set it on the bike's card."), true
	}
	fan := map[bool][3]string{false: {"without", "with", "runs"}, true: {"with", "without", "is off"}}[h.Fan]
	w = words("COOLING", Bad, fmt.Sprintf("It cools for %s more %s a fan, for %s %s one. Press f when the fan %s.",
		plain.Clock(h.CoolS(h.Fan)), fan[0], plain.Clock(h.CoolS(!h.Fan)), fan[1], fan[2]),
		"Engine stopped, cooling. "+placeKept+" Both times are guesses, not measured.")
	w.Amount, w.Read = plain.Clock(h.CoolS(h.Fan)), true
	return w, true
}

// heatWords are HeatWords where the step at hand has to do with a running engine, or it runs.
func (v *View) heatWords() (w Words, ok bool) {
	h := v.heat()
	if !h.Turning && !v.Flow.Off && !v.Flow.At.live() {
		return w, false
	}
	w, ok = HeatWords(&h)
	if open := v.nuts(false); ok && open != "" {
		w.Say = append(w.Say, open)
	}
	return v.placed(w), ok
}

// placed says of words on heat what becomes of the job meanwhile.
func (v *View) placed(w Words) Words {
	for i := range w.Say {
		if v.Practice != nil {
			w.Say[i] = strings.Replace(w.Say[i], placeKept, practiceWay, 1)
		}
	}
	return w
}

// startNeedsS is how much idling must be left for an engine to be started, s. Chosen: it settles in 8; a lock nut is
// loosened, its screw turned and looked at in some 25, the nut tightened and looked at in 10.
const startNeedsS = 45

// toRest reports whether a standing engine is to cool before its start: little idling is left, or was when it stopped.
func (v *View) toRest() bool {
	h := v.heat()
	return !h.Turning && h.RestedS() > startNeedsS && (h.LeftS() < startNeedsS || v.rests && h.CoolS(h.Fan) > 0)
}

// mayStart returns the words to start an engine, or why not: a recorded one only stands, and one that rests cools.
func (v *View) mayStart(w Words) Words {
	const only = "Most of its idling time is used up: let it cool before you start it."
	switch h := v.heat(); {
	case v.Recording && w.Big == bigStart:
		return words("WAIT", Dim, "The engine of the recording stands.")
	case v.toRest() && w.Big == bigStart:
		h.Hot = true
		w, _ = HeatWords(&h)
		w.Say = append([]string{only}, w.Say...)
		return v.placed(w)
	case v.toRest():
		w.Say = append(slices.Clip(w.Say), only)
	}
	return w
}

// heat is the budget of idling now.
func (v *View) heat() heat.State { return v.snap().HeatNow(v.Now) }

// cooling reports whether the engine stands and is to cool.
func (v *View) cooling() bool {
	h := v.heat()
	return h.Hot && !h.Turning
}

// mustStop reports whether the words are that the engine is to stand: nothing covers them.
func (v *View) mustStop() bool {
	h := v.heat()
	return h.Hot && h.Turning
}

// clock is where the budget of idling stands.
func (v *View) clock() (Text, bool) {
	h := v.heat()
	switch {
	case h.Seconds < 1:
		return Text{}, false
	case h.Hot && !h.Turning:
		return Text{"cooling " + plain.Clock(h.CoolS(h.Fan)), Warn}, true
	}
	t := Text{"idling " + plain.Clock(math.Floor(h.Seconds)) + " of " + plain.Clock(h.LimitS()), Plain}
	if !h.Turning {
		t.Text = plain.Clock(h.LeftS()) + " of idling left"
	}
	if h.Fan {
		t.Text += ", fan"
	}
	if h.Near() {
		t.Role = Warn
	}
	return t, true
}

// HeatLine says that the limit is near, "" while it isn't, or is reached.
func HeatLine(h *heat.State) string {
	if h.Hot || !h.Near() || !h.Turning {
		return ""
	}
	then := map[bool]string{false: ". Point a fan at it.", true: ", then it must cool."}[h.Fan]
	return "Engine off within " + plain.Clock(h.LeftS()) + then
}
