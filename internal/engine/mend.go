package engine

import (
	"cmp"
	"slices"
)

// What is wrong with an engine, and how it is put right.

// Wrong is something wrong with the engine that no screw cures.
type Wrong struct {
	Kind WrongKind
	// Cylinder is the one that has it, from 1.
	Cylinder int
	// Screw is the index of the synchronising screw in Bank.Screws, for Unseated; else -1.
	Screw int
	// AtHose is set for a leak in a small hose on the runner; else it is in the boot.
	AtHose bool
}

// WrongKind is a kind of Wrong.
type WrongKind int

// The kinds. What is Worn is not put right beside the bank.
const (
	Leaks    WrongKind = iota // air past its boot, or a hose on its runner
	Unseated                  // its arm stands beside its spring: its screw moves nothing
	NoSpark                   // sparks that go astray at its plug cap
	Worn                      // rings or valves
)

// Wrongs returns what is wrong with the engine now, in the order of the kinds.
func (e *Engine) Wrongs() (list []Wrong) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range e.n {
		d := at(e.config.Defects, i)
		on := Wrong{Cylinder: i + 1, Screw: -1, AtHose: d.AtHose}
		for kind, has := range map[WrongKind]bool{Leaks: d.LeakMM2 > 0, NoSpark: d.Misfire > 0,
			Worn: d.RingsMM2 > 0 || d.Valve > 0 && d.Valve < 1 || d.Retained > 0} {
			if on.Kind = kind; has {
				list = append(list, on)
			}
		}
	}
	for s := range e.linkage.screws {
		if e.linkage.screws[s].play >= unseatedPlay {
			moves := e.linkage.bank.Screws[s].Moves
			list = append(list, Wrong{Kind: Unseated, Cylinder: moves[len(moves)-1], Screw: s})
		}
	}
	slices.SortFunc(list, func(a, b Wrong) int { return cmp.Or(int(a.Kind-b.Kind), a.Cylinder-b.Cylinder) })
	return list
}

// Mend puts right what is wrong, the engine at rest; false where it runs, or where no hand beside the bank can.
func (e *Engine) Mend(w Wrong) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.crank.running() || w.Kind == Worn || w.Cylinder < 1 || w.Cylinder > e.n {
		return false
	}
	i := w.Cylinder - 1
	switch w.Kind {
	case Unseated:
		e.linkage.seat(w.Screw)
	default:
		e.config.Defects = slices.Clone(e.config.Defects) // the caller's
		if d := &e.config.Defects[i]; w.Kind == Leaks {
			d.LeakMM2, e.wetS[i], e.cylinder[i].leak = 0, 0, 0
		} else {
			d.Misfire = 0
		}
	}
	return true
}

// seat puts the arm that a screw moves on its spring: its plates stand from now on as the screw does.
func (l *linkage) seat(s int) {
	l.screws[s].play = 0
	l.screws[s].plateTurns = l.screws[s].at
	l.shifted = true
}

// Ride warms the engine, at rest, as a ride does; false where it runs.
func (e *Engine) Ride() bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.crank.running() {
		return false
	}
	e.warmth.rise = max(e.warmth.rise, startRiseK)
	e.applyWarmth()
	return true
}
