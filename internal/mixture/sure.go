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

// placeOdds is how much less likely the speed must be of a screw that stands further in for it not to stand there, and
// placeStep the steps in which that is asked, turns. Chosen: one hand in twenty forgets a turn.
const placeOdds, placeStep = 2e-4, 1.0 / 16

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
	t.turn.answer.known, t.turn.asks, t.state.Advice.Why = false, 1, advice.WhyTurned
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

// bearOut takes the doubt of a turn out that was confirmed from its screw, where the speed has changed since as it was
// expected to, and has not moved on. The speed of an engine that idles otherwise by itself bears out nothing.
func (t *Trim) bearOut() {
	w := &t.turn
	by := w.to - w.from
	is, moved := t.look.settled()
	if moved > restlessSigmas && !t.restless {
		t.restless = true
		for c, by := range t.borne { // which the engine may have done by itself
			t.state.Pilots[c].Doubt += by
		}
	}
	if moved > agreesSigmas || t.restless {
		return
	}
	if by > 0 && w.expected.sd > 0 && t.before.sd > 0 {
		t.bearOutTurn(is)
	}
	if t.current() > 0 && t.est.ok && is.sd > 0 {
		t.placeBorne(is)
	}
}

// bearOutTurn is bearOut of the last turn, out, by the settled speed since.
func (t *Trim) bearOutTurn(is belief) {
	w := &t.turn
	change := is.mean - t.before.mean
	if w.why == advice.WhyBack && change > bornSigmas*math.Hypot(is.sd, t.before.sd) {
		w.expected = belief{change, t.before.sd} // it was left because the speed fell: that it runs again is enough
	}
	sd := math.Hypot(math.Hypot(is.sd, t.before.sd), ownDrift*(t.now-w.at))
	off := math.Abs(change-w.expected.mean) / math.Hypot(sd, w.expected.sd)
	if math.Abs(w.expected.mean) < w.expected.sd { // any change would agree with that
		return
	}
	if math.Abs(change) > bornSigmas*sd && off < agreesSigmas {
		t.borneOut()
	}
}

// placeBorne takes from the current screw's doubt what the speed where it stands excludes: it is what the law foretells
// there, and surely not what it does as far further in.
func (t *Trim) placeBorne(is belief) {
	p, e := t.pilot(), &t.est
	if p.Doubt <= 0 {
		return
	}
	at := e.settled(t.turnedOut)
	is.sd = math.Hypot(is.sd, ownDrift*(t.now-t.turn.at))
	if math.Abs(is.mean-at.mean) > agreesSigmas*math.Hypot(is.sd, at.sd) {
		return
	}
	here, doubt := e.likely(t.turnedOut, is), p.Doubt
	for doubt > 0 && e.likely(t.turnedOut-doubt, is) < placeOdds*here {
		doubt -= placeStep
	}
	if doubt = max(doubt, 0); doubt < p.Doubt {
		t.borne[p.Cylinder-1] += p.Doubt - doubt
		p.Doubt, t.turn.expected = doubt, belief{} // the last turn is in that
	}
}

// likely is how likely a settled speed is with the screw at u, up to a constant.
func (e *estimate) likely(u float64, is belief) (sum float64) {
	for i := range e.cells {
		c := &e.cells[i]
		by := sizes[c.size] * e.unit * fall(c.shape, u, c.peak)
		top, share := e.topSD[kind(c.shape)], by*lawShares[kind(c.shape)]
		v := is.sd*is.sd + top*top + share*share
		off := e.base + c.top - by - is.mean
		sum += c.weight * math.Exp(-off*off/(2*v)) / math.Sqrt(v)
	}
	return sum
}

// borneOut takes the doubt of the turn that was told last from its screw, if that was outwards and still counts.
func (t *Trim) borneOut() {
	w := &t.turn
	if by := w.to - w.from; by > 0 && w.expected.sd > 0 && !t.restless {
		t.state.Pilots[w.cylinder-1].Doubt -= by
		t.borne[w.cylinder-1] += by
		w.expected = belief{}
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
