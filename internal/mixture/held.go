package mixture

import (
	"cmp"
	"math"

	"evendraw/internal/bank"
)

// leastShare is the share of the speed by which a screw that was set must leave the engine off what was foretold to be
// doubted. Chosen: some 12 rpm; what is less costs nobody anything.
// fellShare is the same for the screw to be trimmed anew though it hardly surely stands far enough off its seat for
// looks further in. Chosen: on a four, half of what it falls by where a cylinder no longer burns as it should.
const leastShare, fellShare = 0.012, 0.05

// anewSigmas is how many standard deviations the speed must be off after a screw was trimmed anew for it to be other
// than before. Chosen: something was otherwise than told, here or elsewhere.
const anewSigmas = 1.5

// foretold is the speed that was foretold at a time where a screw is set, and of which screw; fastest is that of the
// setting which was read fastest, sd 0 without one, drift that of the idle by itself, rpm/s.
type foretold struct {
	cylinder            int
	at                  float64
	rpm, fastest, drift belief
}

// foretell notes what the current screw's setting is foretold to bring.
func (t *Trim) foretell() {
	t.foretold = foretold{}
	p, e := t.pilot(), &t.est
	if !e.ok || e.slip || p.Found != AtPeak && p.Found != Unsure {
		return
	}
	t.foretold = foretold{cylinder: p.Cylinder, at: t.now, rpm: e.settled(p.Moved), drift: e.levels.drift}
	for i, rpm := range e.levels.rpm {
		if f := &t.foretold.fastest; f.sd == 0 || e.base+rpm > f.mean {
			*f = belief{e.base + rpm, math.Sqrt(e.levels.cov.At(i, i))}
		}
	}
}

// offBy returns the speed that was foretold, or read at another setting, where the speed since a screw was set is
// surely another than that; 0 where it is not.
func (t *Trim) offBy(is belief) float64 {
	f := &t.foretold
	if f.cylinder == 0 || is.sd == 0 {
		return 0
	}
	sigmas := otherSigmas
	if t.rough() {
		sigmas = diesSigmas
	}
	since := t.now - f.at
	is = belief{is.mean - f.drift.mean*since, math.Hypot(is.sd, max(f.drift.sd, ownDrift)*since)}
	doubt := func(of belief) float64 { // what is no doubt any more
		return max(sigmas*math.Hypot(is.sd, of.sd), leastShare*is.mean)
	}
	switch {
	case math.Abs(f.rpm.mean-is.mean) > doubt(f.rpm):
		return f.rpm.mean
	case f.fastest.sd > 0 && f.fastest.mean-is.mean > doubt(f.fastest):
		return f.fastest.mean
	}
	return 0
}

// doubted is what is known of screws whose speed was not what was foretold.
type doubted struct {
	again [bank.MaxCylinders]belief // what was foretold before a screw was trimmed anew for that; sd 0 is none
	least [bank.MaxCylinders]bool   // it was to be that at least
	// brought is how often the throttle stop had to bring the idle back between screws.
	brought int
}

// lookBack takes back what is told of a screw where the speed since, is, is not what was foretold for it, or is surely
// less than was read at another setting: a turn was not made as told, or at another screw, or the law does not hold
// there. It reports whether the screw is to be trimmed anew, once.
func (t *Trim) lookBack(is belief) (anew bool) {
	rpm := t.offBy(is)
	if rpm == 0 {
		return false
	}
	f := t.foretold
	t.unsure(f.cylinder, rpm, is.mean)
	p := &t.state.Pilots[f.cylinder-1]
	room := p.Moved-t.inmostOf(p) >= t.cfg.Reach/2 || math.Abs(rpm-is.mean) > fellShare*is.mean
	if d := &t.doubted.again[f.cylinder-1]; d.sd == 0 && room {
		*d = f.rpm
		return true
	}
	return false
}

// unsure takes back what is told of a screw, and what the others took from it.
func (t *Trim) unsure(cylinder int, foretold, is float64) {
	p := &t.state.Pilots[cylinder-1]
	p.Found, p.Uncertainty, p.ForetoldRPM, p.SetRPM = Unsure, math.NaN(), foretold, is
	t.dynamics.shapes.told[cylinder-1], t.again.done[cylinder-1] = nil, nil
}

// trimAnew begins the screw anew whose speed was not what was foretold, before the current one.
func (t *Trim) trimAnew(cylinder int, rpm float64) {
	t.order = append([]int{cylinder}, t.order...)
	p := t.pilot()
	p.ForetoldRPM, p.SetRPM = 0, 0
	t.look.clear(rpm)
	t.beginCylinder(rpm)
}

// mostLed is how often a screw that is trimmed anew is led richer at most. Chosen: two looks further than any turn.
const mostLed = 2

// leadRicher is for a screw that is trimmed anew where the engine runs as if its cylinder no longer burnt: a turn was
// not made as told, and left it too lean. Such a setting tells nothing, nor does one beside it: richer is where it
// burns.
func (t *Trim) leadRicher() bool {
	p := t.pilot()
	was := t.doubted.again[p.Cylinder-1]
	is, _ := t.look.settled()
	lost := was.mean - is.mean - bornSigmas*math.Hypot(was.sd, is.sd)
	if was.sd == 0 || is.sd == 0 || t.restless || lost < t.dropRPM() {
		return false
	}
	l := &t.est.levels
	if last := len(l.rpm) - 1; p.Visits > mostLed || !t.est.ok || l.rpm[last] < l.rpm[0]-bornSigmas*math.Sqrt(
		l.cov.At(last, last)+l.cov.At(0, 0)-2*l.cov.At(0, last)) {
		return false
	}
	t.far = true
	to := t.keepInTravel(t.roundToStep(t.turnedOut + cmp.Or(t.richer(), 1)*t.cfg.Reach))
	if to == t.turnedOut {
		return false
	}
	t.lookAt(to)
	return true
}

// lookBeyond is for a screw that was trimmed anew: where its best still does not bring the speed of before, that was
// not lost by this screw. Another was turned by mistake, or the engine idles otherwise by itself: of none that was set
// before is it known how sure it is.
func (t *Trim) lookBeyond(p *Pilot) {
	was := t.doubted.again[p.Cylinder-1]
	if was.sd == 0 || !t.est.ok {
		return
	}
	is := t.est.settled(min(max(t.est.peak, t.lowOut), t.highOut)) // be it surely off its seat there or not
	by := was.mean - is.mean
	if !t.doubted.least[p.Cylinder-1] {
		by = math.Abs(by)
	}
	if by > max(anewSigmas*math.Hypot(was.sd, is.sd), leastShare*was.mean) {
		t.unsureOthers(p.Cylinder, was.mean, is.mean)
	}
}

// mostBrought is how often the throttle stop may have to bring the idle back between screws: an engine of which that is
// more idles otherwise by itself. Chosen: screws that are set better leave it faster once.
const mostBrought = 1

// broughtBack is for a throttle stop that brings the idle back before the next screw.
func (t *Trim) broughtBack() {
	if t.idle.sideOf(t.foretold.rpm.mean, 0) == Within { // it was not to be needed
		t.doubted.brought = mostBrought
	}
	n := t.idle.speeds.cycles()
	t.lookBack(belief{t.idle.speeds.mean(n), t.idle.speeds.standardError(n)})
	t.foretold = foretold{}
	if t.doubted.brought++; t.doubted.brought > mostBrought {
		t.unsureOthers(0, 0, 0)
	}
}

// untold reports whether of a screw that is set it is not told how sure it is: a turn was surely not made as confirmed,
// it was trimmed anew and its best lies beyond its travel, or too far from where it stood, or the idle moves by itself.
func (t *Trim) untold(p *Pilot) bool {
	lost := t.est.slip || t.doubted.brought > mostBrought
	switch p.Found {
	case AtPeak, ToSet:
		return lost
	case Unsure:
		return lost || math.Abs(p.Best) > farTurns
	}
	return p.Found == AtEnd && t.doubted.again[p.Cylinder-1].sd > 0
}

// unsureOthers takes back what is told of all other screws that were set.
func (t *Trim) unsureOthers(cylinder int, foretold, is float64) {
	for i := range t.cfg.Cylinders {
		p := &t.state.Pilots[i]
		if i+1 != cylinder && t.again.done[i] != nil && (p.Found == AtPeak || p.Found == Unsure) {
			t.unsure(i+1, foretold, is)
		}
	}
}
