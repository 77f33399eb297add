package mixture

import (
	"math"

	"evendraw/internal/bank"
)

// leastShare is the share of the speed by which a screw that was set must leave the engine off what was foretold to be
// doubted. Chosen: some 12 rpm; what is less costs nobody anything.
// fellShare is the same for the screw to be trimmed anew though it hardly surely stands far enough off its seat for
// looks further in. Chosen: on a four, half of what it falls by where a cylinder no longer burns as it should.
const leastShare, fellShare = 0.012, 0.05

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
}

// lookBack takes back what is told of a screw where the speed since is not what was foretold for it, or is surely less
// than was read at another setting: a turn was not made as told, or at another screw, or the law does not hold there.
// It reports whether the screw is to be trimmed anew, once.
func (t *Trim) lookBack() (anew bool) {
	is, _ := t.look.settled()
	rpm := t.offBy(is)
	if rpm == 0 {
		return false
	}
	f := t.foretold
	t.foretold = foretold{}
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

// lookBeyond is for a screw that was trimmed anew: where its best still does not bring what was foretold before, that
// was not lost by this screw. Another was turned by mistake, or the engine idles otherwise by itself: of none that was
// set before is it known how sure it is.
func (t *Trim) lookBeyond() {
	f := &t.foretold
	if f.cylinder == 0 {
		return
	}
	was := t.doubted.again[f.cylinder-1]
	doubt := max(otherSigmas*math.Hypot(was.sd, f.rpm.sd), leastShare*was.mean)
	if was.sd == 0 || was.mean-f.rpm.mean < doubt {
		return
	}
	t.unsureOthers(f.cylinder, was.mean, f.rpm.mean)
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
