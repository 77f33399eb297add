package mixture

import "math"

// fellShare is the share of the speed by which a screw that was set must leave the engine slower than foretold not to
// be sure. Chosen: on a four, half of what it falls by where a cylinder no longer burns as it should.
const fellShare = 0.05

// foretold is the speed that was foretold where a screw is set, and of which screw.
type foretold struct {
	cylinder int
	rpm      belief
}

// foretell notes what the current screw's setting is foretold to bring.
func (t *Trim) foretell() {
	t.foretold = foretold{}
	if p := t.pilot(); t.est.ok && (p.Found == AtPeak || p.Found == Unsure) {
		t.foretold = foretold{p.Cylinder, t.est.settled(p.Moved)}
	}
}

// fell reports whether the speed since a screw was set is surely below what was foretold, and by more than fellShare.
func (t *Trim) fell() bool {
	f := &t.foretold
	is, _ := t.look.settled()
	off := f.rpm.mean - is.mean
	return f.cylinder > 0 && is.sd > 0 && off > otherSigmas*math.Hypot(is.sd, f.rpm.sd) && off > fellShare*f.rpm.mean
}

// lookBack takes back that a setting is sure where the speed since is not what was foretold for it: its last turn was
// not made as told, or the law does not hold there.
func (t *Trim) lookBack() {
	if !t.fell() {
		return
	}
	is, _ := t.look.settled()
	f := t.foretold
	p := &t.state.Pilots[f.cylinder-1]
	p.Found, p.ForetoldRPM, p.SetRPM = Unsure, f.rpm.mean, is.mean
	t.foretold = foretold{}
}
