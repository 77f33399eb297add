package pagetest

import (
	"math"
	"strings"
	"time"

	"evendraw/internal/view"
	"evendraw/internal/voice"
)

// Ear hears what a page says, by the page's own rule: what is being said is said to its end, then
// the newest that came meanwhile; a cut breaks it off.
type Ear struct {
	number          uint64
	saying, pending string
	until           time.Time
}

// Speech takes its time: about 150 words a minute, after the tone.
const (
	toneTime = 200 * time.Millisecond
	wordTime = 400 * time.Millisecond
)

func (e *Ear) begin(now time.Time, text string) {
	e.saying = text
	e.until = now.Add(toneTime + time.Duration(len(strings.Fields(text)))*wordTime)
}

// Hear takes what an event says.
func (e *Ear) Hear(now time.Time, v Voice) {
	if v.Number == e.number {
		return
	}
	e.number = v.Number
	if v.Cut {
		e.saying, e.pending = "", ""
	}
	if e.saying != "" {
		e.pending = v.Text
		return
	}
	e.begin(now, v.Text)
}

// Heard returns an utterance that has been said to its end by now, "" where there is none.
func (e *Ear) Heard(now time.Time) (text string) {
	if e.saying == "" || now.Before(e.until) {
		return ""
	}
	text, e.saying = e.saying, ""
	if e.pending != "" {
		e.begin(now, e.pending)
		e.pending = ""
	}
	return text
}

// Hand presses the keys of a practice four, knowing nothing but what it is told by voice, and which
// screw it has in hand.
type Hand struct {
	names []string // of the screws, as they are spoken, in the keys' order
	at    int      // in hand
	want  int      // to be in hand
	way   float64
	left  float64       // turns to make; infinite is until told to stop
	pace  time.Duration // of a press
	due   time.Time
	once  []string // keys to press
	// Level is set when it was told so.
	Level bool
}

// NewHand returns a hand at the practice bike with screws of these names.
func NewHand(names ...string) *Hand {
	h := &Hand{}
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

// Told takes an utterance.
func (h *Hand) Told(text string) {
	parts := strings.Split(text, ", ")
	if len(parts) > 1 {
		h.way = map[string]float64{"clockwise": 1, "anticlockwise": -1}[parts[1]]
	}
	if strings.HasPrefix(text, "tighten the lock nut") { // there is none at the keys
		h.left, h.once = 0, []string{view.KeyEnter}
	}
	switch what := parts[0]; what {
	case "stop", "wait", "hands away":
		h.left = 0
	case "go on":
		h.left = max(h.left, math.Inf(1))
	case "slower":
		h.left, h.pace = math.Inf(1), min(2*h.pace, 2*slowPace)
	case "other way":
		h.left, h.pace = math.Inf(1), slowPace
	case "blip the throttle":
		h.left, h.once = 0, []string{"b"}
	case "level", "reads level":
		h.left, h.Level = 0, true
	case "look for a leak": // there is none: on
		h.left, h.once = 0, []string{"g"}
	case "look first":
		h.once = []string{"z"}
	case "compare the sensors": // the practice engine draws on the hoses itself
		h.once = []string{view.KeyEnter}
	case "start the engine outdoors":
		h.once = []string{"e"}
	case "warming", "look at the hoses":
		h.once = []string{"n"}
	default:
		for i, n := range h.names {
			if n == what && len(parts) > 1 {
				h.want, h.left, h.pace = i, math.Inf(1), slowPace
				h.Level = h.Level || i == len(h.names)-1 // what is left is the idle speed
			}
		}
		if len(parts) > 2 {
			h.left = turns(parts[2])
		}
	}
}

// Keys are the keys that the hand presses now, as the screen names them.
func (h *Hand) Keys(now time.Time) (keys []string) {
	keys, h.once = h.once, nil
	if h.left < press/2 || now.Before(h.due) {
		return keys
	}
	for ; h.at != h.want; h.at = (h.at + 1) % len(h.names) {
		keys = append(keys, view.KeyTab)
	}
	h.left, h.due = h.left-press, now.Add(h.pace)
	return append(keys, map[bool]string{true: ".", false: ","}[h.way > 0])
}

// turns is an amount that was spoken.
func turns(text string) (n float64) {
	for _, part := range strings.Split(text, " and ") {
		count, unit, _ := strings.Cut(part, " ")
		number := strings.Index("one two thr fou fiv six sev eig nin ten ele     thi     fif", count[:3]) / 4
		unit = strings.TrimSuffix(unit, "s")
		n += float64(number+1) / map[string]float64{"turn": 1, "half": 2, "quarter": 4, "eighth": 8,
			"sixteenth": 16}[unit]
	}
	return n
}
