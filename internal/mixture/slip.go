package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// What a hand confirms it may have forgotten, or made at another screw. Each confirmed turn of the current screw, were
// it not made, would put all looks since elsewhere: how likely the speeds are then, against how likely they are as
// confirmed, tells of both whether a turn was surely made and whether one surely was not.
const (
	// bornOdds is the logarithm of how much less likely the speeds must be were a turn out not made for it to be borne
	// out. Chosen: of a hand that forgets one turn in twenty, one in three thousand.
	bornOdds = 5.0
	// bornDrift is how fast the idle may move by itself meanwhile, rpm/s, as a standard deviation. Simulated: of hands
	// that forget every other turn, or turn it back, at an idle that falls by 4 rpm/s 11 of 6,062 turns told led onto
	// the seat with the usual drift, 7 with 0.5, 3 with 1, none of 5,991 with 2. Of screws that stand little out
	// 91, 92, 86 and 79 % are then found within an eighth. Chosen: most of the one for little of the other.
	bornDrift = 1.0
	// bothOdds is the same were another turn not made either. Chosen: a hand seldom forgets two.
	bothOdds = 2.0
	// slipOdds is the logarithm of how much likelier they must be were a turn not made for it to count as a slip.
	// Simulated: sound hands come to 5, those that turn 15 % off to 7.5, of hands that forget one in three is beyond.
	slipOdds = 7.0
	// otherShare is by which share of the speed, as a standard deviation, another screw moves the idle that was turned
	// instead. Chosen.
	otherShare = 0.08
)

// unmade returns what the looks tell were the turns before some of them not made.
func (e *estimate) unmade(looks ...int) estimate {
	n := *e
	l := &n.levels
	l.u = slices.Clone(l.u)
	n.refused = nil
	by := 0.0
	for i, u := range e.levels.u {
		if slices.Contains(looks, i) {
			by += u - e.levels.u[i-1]
		}
		if l.u[i] -= by; l.off[i] {
			n.refused = append(n.refused, l.u[i])
		}
	}
	return n
}

// instead returns the same of the turn before look k, were another screw turned instead, which moves the idle.
func (t *Trim) instead(k int) (e estimate) {
	e = t.est.unmade(k)
	l := &e.levels
	cov, v := mat.NewSymDense(len(l.u), nil), otherShare*t.baseRPM
	cov.CopySym(l.cov)
	for i := k; i < len(l.u); i++ {
		for j := k; j <= i; j++ {
			cov.SetSym(i, j, cov.At(i, j)+v*v)
		}
	}
	l.cov = cov
	return e
}

// evidence is the logarithm of how likely the levels are by all laws.
func (t *Trim) evidence(e *estimate) float64 {
	_, most, _ := t.lay(e)
	sum := 0.0
	for _, w := range t.grid.log {
		if w > most+logLikely {
			sum += math.Exp(w - most)
		}
	}
	return e.beyondLog(t.baseRPM) + most + math.Log(sum)
}

// beyondLog is the logarithm of how likely the speeds are at the settings that the engine does not bear: any is.
func (e *estimate) beyondLog(rpm float64) float64 { return -float64(e.beyond) * math.Log(rpm) }

// slips reports whether a turn of the current screw was surely not made as confirmed.
func (t *Trim) slips() bool {
	for k := 1; t.est.ok && k < len(t.est.levels.u); k++ {
		if is, other := t.est.unmade(k), t.instead(k); max(t.evidence(&is), t.evidence(&other))-t.est.log > slipOdds {
			return true
		}
	}
	return false
}

// bearOutLooks takes the doubt of those turns out of the current screw that were surely made, as the speeds would else
// be far less likely. What the screw before was foretold to bring counts for nothing there: its last turn may be the
// one that was not made. Nor may an idle that moves by itself tell it.
func (t *Trim) bearOutLooks() {
	p, doubt, held := t.pilot(), t.doubtBefore, t.curve.held
	t.curve.held, t.curve.mostDrift = belief{}, bornDrift
	e := t.estimate()
	t.curve.held, t.curve.mostDrift = held, 0
	u := e.levels.u
	for k := 1; k < len(u) && doubt < p.Doubt; k++ {
		if u[k] > u[k-1] && !t.surelyMade(&e, k) {
			doubt += u[k] - u[k-1]
		}
	}
	if doubt < p.Doubt {
		t.borne[p.Cylinder-1] += p.Doubt - doubt
		p.Doubt = doubt
	}
}

// surelyMade reports whether the speeds bear out the turn before look k, be another made or not.
func (t *Trim) surelyMade(e *estimate, k int) bool {
	if is := e.unmade(k); e.log-t.evidence(&is) < bornOdds {
		return false
	}
	for j := 1; j < len(e.levels.u); j++ {
		if is := e.unmade(k, j); j != k && e.log-t.evidence(&is) < bothOdds {
			return false
		}
	}
	return true
}

// trimFromHere begins the current screw anew from where it stands, wherever that is: a turn of it was not made as
// confirmed. It reports false where that was done before.
func (t *Trim) trimFromHere() bool {
	p, l := t.pilot(), &t.est.levels
	d := &t.doubted.again[p.Cylinder-1]
	if d.sd > 0 {
		return false
	}
	*d = belief{t.est.base + l.rpm[0], math.Sqrt(l.cov.At(0, 0))}
	t.doubted.least[p.Cylinder-1] = true
	is, _ := t.look.settled()
	t.held = belief{is.mean, math.Hypot(is.sd, wanderSD)}
	t.turn, t.said = turn{number: t.turn.number, pending: t.turn.pending[:0]}, turn{} // nothing counts on them any more
	t.beginCylinder(is.mean)
	t.anew = t.state.Step == StepBase
	return true
}
