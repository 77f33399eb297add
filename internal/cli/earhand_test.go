package cli

import (
	"math"
	"strings"
	"time"

	"evendraw/internal/view"
	"evendraw/internal/voice"
)

// earHand presses the keys of a practice four, knowing nothing but what it is told by voice, and which
// screw it has in hand.
type earHand struct {
	names []string // of the screws, as they are spoken, in the keys' order
	at    int      // in hand
	want  int      // to be in hand
	way   float64
	left  float64       // turns to make; infinite is until told to stop
	made  float64       // turns since a screw was named last, or taken back
	heard string        // the utterance before: one that is said again is no new one
	pace  time.Duration // of a press
	due   time.Time
	once  []string // keys to press
	// level is set when it was told so.
	level bool
	// runs reports whether the engine is heard to run, which needs no starting then, whatever a late word says; nil
	// for an engine that is off when it is to be started.
	runs func() bool
}

// newEarHand returns a hand at the practice bike with screws of these names.
func newEarHand(names ...string) *earHand {
	h := &earHand{}
	for _, n := range append(names, view.StopName) {
		w := view.Words{Big: n, Arrow: 1}
		if n == view.StopName {
			w.Big = "IDLE"
		}
		said, _, _ := strings.Cut(voice.SayingOf(&w).Text, ",")
		h.names = append(h.names, said)
	}
	return h
}

// press is what a fine key turns; slowPace makes an eighth of a turn a second of it.
const (
	press    = 1.0 / 16
	slowPace = 500 * time.Millisecond
)

// told takes an utterance.
func (h *earHand) told(text string) {
	parts := strings.Split(text, ", ")
	ways := map[string]float64{"clockwise": 1, "anticlockwise": -1}
	if len(parts) > 1 && ways[parts[1]] != 0 { // "go on" may name none: the same way
		h.way = ways[parts[1]]
	}
	if strings.HasPrefix(text, "tighten the lock nut") { // there is none at the keys
		h.left, h.once = 0, []string{view.KeyEnter}
	}
	switch what := parts[0]; what {
	case "stop", "wait", "hands away":
		h.left = 0
	case "go on":
		if h.left = math.Inf(1); len(parts) > 1 && ways[parts[1]] == 0 {
			h.left, h.made = turnsSpoken(parts[1]), 0
		}
	case "slower":
		h.left, h.pace = math.Inf(1), min(2*h.pace, 2*slowPace)
	case "other way":
		h.left, h.pace = math.Inf(1), slowPace
	case "undo that screw":
		if text != h.heard {
			h.way, h.left, h.made = -h.way, h.made, 0
		}
	case "blip the throttle":
		h.left, h.once = 0, []string{"b"}
	case "level", "reads level":
		h.left, h.level = 0, true
	case "look for a leak": // there is none: on
		h.left, h.once = 0, []string{"g"}
	case "look first":
		h.once = []string{"z"}
	case "compare the sensors": // the practice engine draws on the hoses itself
		h.once = []string{view.KeyEnter}
	case "start the engine outdoors":
		if h.runs == nil || !h.runs() {
			h.once = []string{"e"}
		}
	case "warming", "look at the hoses":
		h.once = []string{"n"}
	default:
		for i, n := range h.names {
			if n == what && len(parts) > 1 {
				h.want, h.left, h.pace, h.made = i, math.Inf(1), slowPace, 0
				h.level = h.level || i == len(h.names)-1 // what is left is the idle speed
			}
		}
		if len(parts) > 2 {
			h.left = turnsSpoken(parts[2])
		}
	}
	h.heard = text
}

// keys are the keys that the hand presses now, as the screen names them.
func (h *earHand) keys(now time.Time) (keys []string) {
	keys, h.once = h.once, nil
	if h.left < press/2 || now.Before(h.due) {
		return keys
	}
	for ; h.at != h.want; h.at = (h.at + 1) % len(h.names) {
		keys = append(keys, view.KeyTab)
	}
	h.left, h.made, h.due = h.left-press, h.made+press, now.Add(h.pace)
	return append(keys, map[bool]string{true: ".", false: ","}[h.way > 0])
}

// turnsSpoken is an amount that was spoken.
func turnsSpoken(text string) (n float64) {
	if text == "a hair" {
		return press
	}
	for _, part := range strings.Split(text, " and ") {
		count, unit, _ := strings.Cut(part, " ")
		number := strings.Index("one two thr fou fiv six sev eig nin ten ele     thi     fif", count[:3]) / 4
		unit = strings.TrimSuffix(unit, "s")
		n += float64(number+1) / map[string]float64{"turn": 1, "half": 2, "quarter": 4, "eighth": 8,
			"sixteenth": 16}[unit]
	}
	return n
}
