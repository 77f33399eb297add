package mixture

import (
	"math"
	"slices"

	"evendraw/internal/advice"
)

const (
	// handTurnsPerS is how fast a screw is turned, and findS how long its slot is looked for.
	// Chosen: a screwdriver under a tank.
	handTurnsPerS, findS = 0.5, 3.0
	// reactS is the least time from telling until a hand can have turned anything. Chosen: to
	// read the word, and find the slot.
	reactS = 1.5
	// readS is how long a turn must have been told before an Enter can be of it, beside what it takes at
	// quickTurnsPerS: one that comes sooner was meant for what stood there before. Chosen: to read a word;
	// faster than any hand turns.
	readS, quickTurnsPerS = 1.0, 2.0
	// answerS is how long, beyond finding and turning, an answer of the speed is waited for
	// before it is asked whether the turn was made.
	answerS = 7.0
	// mostStops is how often the engine may stop by itself at a setting before that is left: once may have been a hand.
	mostStops = 1
	// steadyCycles is how many steady cycles in a row show that an engine idles again. Chosen: about
	// a second; one that runs down or up has some.
	steadyCycles = 8
	// shortGapS is up to how many seconds of missing samples leave the engine as it was. Chosen: nobody stops it
	// and starts it again in less.
	shortGapS = 2.0
	// standsS is after how many seconds without a cycle an engine stands: one that runs up has odd ones. Chosen.
	standsS = 0.4
	// startS is how long an engine that was started may take to run up. Chosen.
	startS = 4.0
	// answerSigmas is how many standard deviations a lasting change of the speed must be from
	// chance, answerCycles the fewest cycles that show it, answerMemory the most that are
	// looked back on. Chosen: idling practice engines came to 4.3 in 40 s, twins most.
	answerSigmas               = 4.8
	answerCycles, answerMemory = 8, 160
	// shownSigmas is the same for when a turn began that is known to be made, and onsetCycles by how many cycles
	// that may be found too late. Chosen.
	shownSigmas, onsetCycles = 3.0, 8
	// usualNoise is the standard deviation of what a cycle adds to a four's idle by chance, of the
	// speed. Measured on the practice engine: 4.3 rpm at 1050.
	usualNoise = 0.0041
	// mostWatchFactor bounds how much longer than usual a rough idle is watched.
	mostWatchFactor = 2.0
	// noiseMemory is over how many cycles the noise is averaged. Chosen: some ten seconds.
	noiseMemory = 90
)

// turn is a turn of a pilot screw that is told, in turns out from where the screw stood.
type turn struct {
	number         int // of all that were told, from 1
	cylinder       int
	from, to, goal float64 // goal: what a way that is told in parts ends at
	why            advice.Why
	told           advice.Advice
	asked          bool // whether it is made
	answer         answer
	pending        []row // cycles since it was told: of the setting before, the way, or the one after
	step           Step
	at, shown      float64 // when it was told first, and since when it has stood there, s
	doubt          float64 // the screw's Doubt before
	late           bool    // it was confirmed before it was made
}

// tellTurn tells to turn the screw to so many turns out from its start: no further in than it surely may be. A way
// longer than MostTurns is told in parts. From now on a turn in may have been made, whether it is confirmed or not.
func (t *Trim) tellTurn(to float64, s Step, why advice.Why) {
	to = max(to, min(t.inmost(), t.turnedOut))
	goal := to
	if m := t.cfg.MostTurns; m > 0 && math.Abs(to-t.turnedOut) > m {
		to = t.turnedOut + math.Copysign(m, to-t.turnedOut)
	}
	a := advice.New(advice.Turn, advice.PilotScrew, why)
	a.Cylinder = t.current()
	a.Turns = math.Abs(to - t.turnedOut)
	a.Direction = advice.WayOf(t.turnedOut - to) // outwards is anticlockwise
	if a.Turns == 0 {
		a.Direction = advice.UnknownWay
	}
	n := t.speeds.cycles()
	level := t.speeds.mean(n)
	if t.est.ok {
		level = t.est.settled(t.turnedOut).mean
	}
	p := t.pilot()
	p.Doubt += p.ToldIn // another, that was neither confirmed nor corrected
	t.turn = turn{number: t.turn.number + 1, at: t.now, shown: t.now, cylinder: t.current(), from: t.turnedOut, to: to,
		goal: goal, why: why, told: a, step: s, doubt: p.Doubt,
		pending: t.turn.pending[:0], answer: answer{known: n >= answerCycles, level: level,
			levelSD: t.speeds.standardError(n)}}
	p.ToldIn = max(t.turnedOut-to, 0)
	t.state.Advice = a
	t.enter(s, t.patience())
}

// patience is how long the answer to the turn that is told is waited for.
func (t *Trim) patience() float64 {
	if t.cfg.Confirm {
		return math.Inf(1)
	}
	return findS + math.Abs(t.turn.to-t.turn.from)/handTurnsPerS + answerS
}

// awaitTurn waits until the hand says that the turn is made that was told. When the speed has changed, or nothing was
// said for long, it is asked, for as long as nobody answers: a speed that changes may have done so by itself, so that
// it never counts as a turn. The turn is not told anew meanwhile: it would be made twice.
func (t *Trim) awaitTurn(over bool) {
	w := &t.turn
	t.state.Advice = w.told
	if w.asked {
		t.state.Advice.Why = advice.WhyTurned
	}
	onset, seen := w.answer.onset(answerSigmas)
	way := onset + int((math.Abs(w.to-w.from)/handTurnsPerS+handS)/t.curve.period)
	switch {
	case w.from == w.to:
		t.turned()
	case !w.asked && (over || seen && !t.cfg.Confirm && way <= len(w.pending)): // the hand would be at its end
		w.asked = true
		t.enter(t.state.Step, math.Inf(1))
	}
}

// Made tells that the hand says that the turn is made that was told. It reports false where that can't be:
// the turn has not been told for long enough to be read and made, or something else is told.
func (t *Trim) Made() bool {
	w := &t.turn
	switch told := t.now - w.shown; {
	case t.state.Step != StepTurn && t.state.Step != StepSet: // nothing is asked for
		return true
	case t.hot || told < readS+math.Abs(w.to-w.from)/quickTurnsPerS:
		return false
	}
	t.turned()
	return true
}

// turned takes the turn that was told as made, as the hand says. One outwards may all the same not have been made.
func (t *Trim) turned() {
	w := &t.turn
	t.keepBeforeTurn()
	t.stand(w.to, w.doubt+max(w.to-w.from, 0))
	t.said = *w
	t.said.pending, t.said.answer = nil, answer{}
	t.look.clear(t.curve.base)
	switch {
	case w.to != w.goal:
		t.tellRest()
	case t.stalled.back:
		t.beginAnew()
	case w.step == StepSet:
		t.closeCylinder()
	default:
		t.beginWatch()
		t.stops = 0
	}
}

// keepBeforeTurn gives the curve the cycles since the turn was told in which the hand had surely not begun.
func (t *Trim) keepBeforeTurn() {
	w := &t.turn
	if first, ok := w.answer.onset(shownSigmas); ok && !t.rough() {
		for i := range w.pending[:max(first-onsetCycles, 0)] {
			if r := w.pending[i]; r.t+t.curve.begun-w.at >= reactS {
				t.curve.add(r, t.curve.period)
			}
		}
	}
}

// stand notes where the current screw stands, and by how much further in it may stand.
func (t *Trim) stand(at, doubt float64) {
	t.turnedOut = at
	p := t.pilot()
	p.Moved, p.Out, p.Doubt, p.ToldIn = at, p.StartOut+at, doubt, 0
}

// Turns by what they are instead of their numbers: the one that was told last, and the one that was confirmed last.
const (
	TurnTold = 0
	TurnSaid = -1
)

// seatSlack is by how far a screw may be said to go past its seat, turns. Chosen: a count of turns out is no better.
const seatSlack = 0.25

// PastSeat reports whether the turn of a number, made by so many turns, would lead its screw past its seat: a slip in
// the amount that is said. It reports false where it is not known how far out the screw stands.
func (t *Trim) PastSeat(number int, turns float64) bool {
	w := &t.turn
	if number == TurnSaid || number != TurnTold && number == t.said.number {
		w = &t.said
	}
	return w.cylinder > 0 && t.state.Pilots[w.cylinder-1].StartOut+w.made(turns) < -seatSlack
}

// standSaid has the screw of a turn stand where the hand says that it is, which is believed, but for turns out by far
// more than it was told: those may be a slip of the finger, and no speed shows which.
func (t *Trim) standSaid(w *turn, at float64) {
	doubt := w.doubt
	if beyond := at - max(w.from, w.to); beyond > seatSlack {
		doubt += beyond
		t.doubtBefore += beyond
	}
	t.stand(at, doubt)
}

// made is where the screw of a turn stands that was made by so many turns, below 0 the other way.
func (w *turn) made(turns float64) float64 { return w.from + math.Copysign(1, w.to-w.from)*turns }

// CorrectTurn is Correct of the turn of a number: the one that was told last, or the one that was confirmed last.
func (t *Trim) CorrectTurn(number int, turns float64) bool {
	if number == TurnSaid {
		number = t.said.number
	}
	switch number {
	case t.turn.number, TurnTold:
		return t.Correct(turns)
	case t.said.number:
		return t.correctSaid(turns)
	}
	return false
}

// correctSaid corrects the turn that was confirmed last while another is told, which is told no more: it counted on
// that.
func (t *Trim) correctSaid(turns float64) bool {
	if w := &t.said; math.IsNaN(turns) || w.from == w.to {
		return false
	}
	number, pending := t.turn.number, t.turn.pending[:0]
	t.turn, t.said = t.said, turn{}
	t.turn.number, t.turn.pending = number, pending
	w := &t.turn
	at := w.made(turns)
	if t.current() != w.cylinder {
		return t.Correct(turns)
	}
	t.curve.moveRows(w.to, at)
	t.curve.refused = slices.DeleteFunc(t.curve.refused, func(u float64) bool { return u == w.to })
	t.standSaid(w, at)
	t.bound(t.pilot())
	s, looked := &t.state, false
	if n := s.NPoints - 1; n >= 0 && s.Points[n].Moved == w.to {
		looked = at != w.from
		if s.Points[n].Moved = at; !looked {
			s.NPoints--
			t.pilot().Visits--
		}
	}
	t.est = t.estimate()
	if looked {
		t.nextSetting()
	} else {
		t.tellRest()
	}
	return true
}

// Correct tells that the turn that is told, or was told last, was made by another amount, in turns; below 0 the other
// way, 0 not at all. What was read since counts for where the screw really stands, which is sure now. It reports false
// where there was no turn to correct.
func (t *Trim) Correct(turns float64) bool {
	w := &t.turn
	if w.cylinder == 0 || math.IsNaN(turns) || w.from == w.to {
		return false
	}
	at := w.made(turns)
	if t.seatedAt(at) {
		t.lowOut, w.to, w.goal = max(t.lowOut, at), at, at
		t.turned()
		return true
	}
	if t.current() != w.cylinder { // it was set, and the next begun
		t.order = append([]int{w.cylinder}, t.order...)
	}
	watched := t.state.Step == StepWatch
	if watched {
		t.curve.moveRows(w.to, at)
	}
	t.standSaid(w, at)
	if watched && at != w.from {
		w.to = at
		return true
	}
	// told, set, or not made at all: what is left of the way is told
	switch {
	case w.step == StepSet:
		t.notSetYet()
	case w.why == advice.WhyStalled && t.state.Step == StepIdle: // it was told back before its trim
		t.stalled.back = true
	}
	t.tellRest()
	return true
}

// tellRest tells what is left of a way. The speed still answers what was made of it, so that nothing of it shows
// whether the rest is made: only the hand can say.
func (t *Trim) tellRest() {
	t.tellTurn(t.turn.goal, t.turn.step, t.turn.why)
	t.turn.answer.known = false
}

// innovations holds by how much a cycle's speed is off what the two before and the settled speed let
// expect, as of a usual engine.
type innovations struct {
	square float64 // mean square, rpm²
	n      int
}

// of returns the innovation of a row about a settled level, rpm.
func (n *innovations) of(r *row, period, level float64) float64 {
	q := period / returnS
	return r.rpm - r.before - usualSwing*(r.before-r.beforeThat) - q*(level-r.before)
}

// learn takes a cycle at a setting whose settled speed is roughly level.
func (n *innovations) learn(r *row, period, level float64) {
	e := n.of(r, period, level)
	n.n++
	square := e * e
	if n.n > noiseMemory/4 {
		square = min(square, mostStep*n.square)
	}
	n.square += (square - n.square) / float64(min(n.n, noiseMemory))
}

// sd is the standard deviation of an innovation, rpm.
func (n *innovations) sd() float64 { return math.Sqrt(n.square) }

// answer looks for a lasting change of the settled speed since a turn was told: a row of innovations
// whose sum is further from 0 than chance and the doubt about the level before let expect.
//
//	z = |sum| / (s sqrt(n (1 + n (q levelSD/s)²)))
type answer struct {
	known          bool // the level before is known
	level, levelSD float64
	sum            []float64 // of the innovations so far
	q              float64
	sd             float64
}

// push takes a row of speeds from a base.
func (a *answer) push(r *row, base, period float64, n *innovations) {
	last := 0.0
	if len(a.sum) > 0 {
		last = a.sum[len(a.sum)-1]
	}
	a.sum = append(a.sum, last+n.of(r, period, a.level-base))
	a.q, a.sd = period/returnS, n.sd()
}

// onset returns with which cycle since the turn was told the speed began to change; ok is false while it has not.
func (a *answer) onset(sigmas float64) (first int, ok bool) {
	best, end := sigmas, len(a.sum)
	if !a.known || a.sd == 0 {
		return 0, false
	}
	doubt := a.q * a.levelSD / a.sd
	for m := max(end-answerMemory, 0); m <= end-answerCycles; m++ {
		before, n := 0.0, float64(end-m)
		if m > 0 {
			before = a.sum[m-1]
		}
		if z := math.Abs(a.sum[end-1]-before) / (a.sd * math.Sqrt(n*(1+n*doubt*doubt))); z > best {
			best, first, ok = z, m, true
		}
	}
	return first, ok
}
