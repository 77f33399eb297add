package voice

import "evendraw/internal/view"

// rings is how often the terminal's bell rings for a cue: once for go on, twice for stop, three times for wrong, four
// times for level.
var rings = map[Cue]int{CueGo: 1, CueStop: 2, CueOther: 3, CueFault: 3, CueLevel: 4}

// bellTicks is how many ticks of the screen lie between two rings: a terminal's bell
// that rings at once rings once. Chosen: a fifth of a second.
const bellTicks = 4

// Bells rings once what a voice says again and again, one ring at a time.
type Bells struct {
	told  Saying
	left  int // rings still to come
	ticks int // until the next
}

// Due takes the large words at each tick of the screen, and reports whether to ring now.
func (b *Bells) Due(w *view.Words) bool {
	s := SayingOf(w)
	if n := rings[s.Cue]; n > 0 && !s.same(&b.told) {
		b.left, b.ticks = n, 0 // news break off what was ringing
	}
	b.told = s
	if b.ticks--; b.left == 0 || b.ticks >= 0 {
		return false
	}
	b.left, b.ticks = b.left-1, bellTicks
	return true
}
