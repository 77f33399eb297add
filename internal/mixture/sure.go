package mixture

import (
	"math"
	"slices"

	"evendraw/internal/advice"
)

// bornSigmas is how many standard deviations from nothing the speed must have changed, and agreesSigmas how near to
// what was expected it must have come, for it to bear out that a turn was made. Chosen: a hand's own error is in the
// second.
const bornSigmas, agreesSigmas = 3.0, 2.5

// ownDrift is how fast an idle may change by itself, rpm/s, as a standard deviation. Chosen: an engine that cools, or
// whose fuel runs low, changes so; what took a minute bears out nothing.
const ownDrift = 0.4

// restlessSigmas is how many standard deviations the halves of a look must be apart to show an engine whose idle moves
// by itself. Chosen: by chance that is one look of ten thousand.
const restlessSigmas = 4.0

// otherSigmas is how many standard deviations the speed before a screw must be from what is expected to be another.
// Chosen: as a turn's beginning is known.
const otherSigmas = shownSigmas

// inmost is how far in the current screw may be told to be turned, in turns out from where it stood at first: so that
// it keeps leastOut off its seat wherever it may stand by now. Where no bench card says how far out it stood there is
// no such figure, and the hand is told to count and to stop at the seat: then it is mostFromStart from there.
func (t *Trim) inmost() float64 { return t.inmostOf(t.pilot()) }

// inmostOf is inmost of a screw.
func (t *Trim) inmostOf(p *Pilot) float64 {
	least := -mostFromStart
	if !math.IsNaN(p.StartOut) {
		least = min(leastOut-p.StartOut, 0) + p.Doubt + p.ToldIn
	}
	return math.Ceil(least/setStep-1e-9) * setStep
}

// seatedAt reports whether the turn in that is told may have ended at the seat when the hand says that it is made to a
// setting alone: it was told to stop there, as nothing else says how far in the screw goes.
func (t *Trim) seatedAt(at float64) bool {
	w := &t.turn
	return (t.state.Step == StepTurn || t.state.Step == StepSet) && w.to < at && at < w.from &&
		math.IsNaN(t.pilot().StartOut)
}

// askFirst begins the current screw, which was left before a turn in was confirmed, with the question whether that is
// made: where it stands, and what speed goes with that, is not known before.
func (t *Trim) askFirst() {
	p := t.pilot()
	to := p.Moved - p.ToldIn
	p.ToldIn, t.curve.held = 0, belief{}
	t.tellTurn(to, StepTurn, advice.WhySeek)
	t.turn.answer.known, t.turn.asked, t.state.Advice.Why = false, true, advice.WhyTurned
}

// expect is what the turn of the current screw to a setting is expected to do to the settled speed, rpm: by the
// settings that were looked at, else by what is held of the engine.
func (t *Trim) expect(to float64) belief {
	if e := &t.est; len(e.cells) > 0 {
		return e.change(t.turnedOut, to)
	}
	e := t.expected()
	return e.change(t.turnedOut, to)
}

// leadsOn reports whether the current screw can be told to the peak from a setting: that is further out, or the way to
// the setting is one that the speed can bear out, or there is room for the doubt about it.
func (t *Trim) leadsOn(to float64) bool {
	by := to - t.turnedOut
	if by <= 0 || to <= t.est.peak || t.inmost()+by <= t.est.peak {
		return true
	}
	if t.restless { // whose speed bears out nothing
		return false
	}
	sd := math.Sqrt2 * t.noise.sd() * t.est.gain / math.Sqrt(t.watchS()/t.curve.period)
	answer := t.expect(to)
	return math.Abs(answer.mean)-answer.sd > (bornSigmas+1)*sd
}

// look is what the settled speed is since the last turn was made, by the cycles since: as the innovations about any
// level tell it, whatever was expected.
type look struct {
	level float64   // rpm, about which
	sum   []float64 // of the innovations so far
	q, sd float64
}

// clear begins anew about a level.
func (l *look) clear(level float64) { *l = look{level: level, sum: append(l.sum[:0], 0)} }

// push takes a row of speeds from a base.
func (l *look) push(r *row, base, period float64, n *innovations) {
	if len(l.sum) == 0 {
		return
	}
	l.sum = append(l.sum, l.sum[len(l.sum)-1]+n.of(r, period, l.level-base))
	l.q, l.sd = period/returnS, n.sd()
}

// drop leaves out the first cycles.
func (l *look) drop(n int) {
	l.sum = slices.Delete(l.sum, 0, n)
	for i, from := len(l.sum)-1, l.sum[0]; i >= 0; i-- {
		l.sum[i] -= from
	}
}

// settled returns the settled speed, rpm, sd 0 while it is unknown, and by how many standard deviations the second half
// of it differs from the first.
func (l *look) settled() (is belief, moved float64) {
	n := len(l.sum) - 1
	if n < 2*answerCycles || l.sd == 0 {
		return belief{}, 0
	}
	first, second := l.part(0, n/2), l.part(n/2, n)
	return l.part(0, n), math.Abs(first.mean-second.mean) / math.Hypot(first.sd, second.sd)
}

// part is settled by a part of the cycles.
func (l *look) part(from, to int) belief {
	n := float64(to - from)
	return belief{l.level + (l.sum[to]-l.sum[from])/(l.q*n), l.sd / (l.q * math.Sqrt(n))}
}

// bearOut takes the doubt of turns out that were surely made from the current screw. The speed of an engine that idles
// otherwise by itself bears out nothing.
func (t *Trim) bearOut() {
	is, moved := t.look.settled()
	if moved > restlessSigmas && !t.restless {
		t.restless = true
		for c, by := range t.borne { // which the engine may have done by itself
			t.state.Pilots[c].Doubt += by
		}
	}
	if moved <= agreesSigmas && !t.restless && t.current() > 0 && is.sd > 0 {
		t.bearOutLooks()
	}
}

// asSet reports whether the speed before the first turn of a screw is what the last turn of the screw before was
// expected to leave. Where it is not, that turn was made otherwise than told, or the engine idles otherwise by itself:
// the expected speed counts no more.
func (t *Trim) asSet() bool {
	held := &t.curve.held
	is, _ := t.look.settled()
	off := math.Abs(is.mean - t.curve.base - held.mean)
	if held.sd == 0 || is.sd == 0 || off < otherSigmas*math.Hypot(is.sd, held.sd) {
		return true
	}
	*held = belief{}
	t.baseRPM, t.stepSeconds = is.mean, roughBaseS
	return false
}
