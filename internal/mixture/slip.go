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
	// slipOdds is the logarithm of how much likelier they must be were a turn not made for it to count as a slip.
	// Simulated: sound hands come to 5, those that turn 15 % off to 7.5, of hands that forget one in three is beyond.
	slipOdds = 7.0
	// otherShare is by which share of the speed, as a standard deviation, another screw moves the idle that was turned
	// instead. Chosen.
	otherShare = 0.08
)

// unmade returns what the looks tell were the turn before look k not made, and, for another screw that was turned
// instead, were the idle moved by it.
func (t *Trim) unmade(k int, other bool) (e estimate) {
	e = t.est
	l := &e.levels
	by := l.u[k] - l.u[k-1]
	l.u = slices.Clone(l.u)
	e.refused = nil
	for i := range l.u {
		if i >= k {
			l.u[i] -= by
		}
		if l.off[i] {
			e.refused = append(e.refused, l.u[i])
		}
	}
	if other {
		cov, v := mat.NewSymDense(len(l.u), nil), otherShare*t.baseRPM
		cov.CopySym(l.cov)
		for i := k; i < len(l.u); i++ {
			for j := k; j <= i; j++ {
				cov.SetSym(i, j, cov.At(i, j)+v*v)
			}
		}
		l.cov = cov
	}
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
		for _, other := range []bool{false, true} {
			if e := t.unmade(k, other); t.evidence(&e)-t.est.log > slipOdds {
				return true
			}
		}
	}
	return false
}

// bearOutLooks takes the doubt of those turns out of the current screw that were surely made, as the speeds would else
// be far less likely.
func (t *Trim) bearOutLooks() {
	p, doubt := t.pilot(), t.doubtBefore
	u := t.est.levels.u
	for k := 1; k < len(u) && doubt < p.Doubt; k++ {
		if u[k] <= u[k-1] {
			continue
		}
		if e := t.unmade(k, false); t.est.log-t.evidence(&e) < bornOdds {
			doubt += u[k] - u[k-1]
		}
	}
	if doubt < p.Doubt {
		t.borne[p.Cylinder-1] += p.Doubt - doubt
		p.Doubt = doubt
	}
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
