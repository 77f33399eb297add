// Package advice is the one vocabulary in which every stage says the thing to do next: its kind, the
// part that it is about, which way and how far to turn it, and why. It holds no wording: package view
// puts an Advice in words, and the JSON lines show the constants' values.
//
// Begin with New.
package advice

import "math"

// Kind is the kind of an advice.
type Kind string

// Kinds of advice.
const (
	Wait    Kind = "wait"
	Turn    Kind = "turn"
	Stop    Kind = "stop"    // take the hand off
	Reverse Kind = "reverse" // it led the wrong way: turn back
	Hold    Kind = "hold"    // keep the speed where it is, hands off else
	Recheck Kind = "recheck" // do what Why names, then the bank is looked at again
	Fault   Kind = "fault"   // no screw mends it
	Done    Kind = "done"
)

// Part is what an advice is about.
type Part string

// Parts.
const (
	NoPart       Part = ""
	SyncScrew    Part = "sync-screw"
	ThrottleStop Part = "throttle-stop"
	PilotScrew   Part = "pilot-screw"
	TwistGrip    Part = "throttle"
)

// NoScrew stands where no synchronising screw is meant.
const NoScrew = -1

// Advice is the one thing to do next.
type Advice struct {
	Kind Kind
	Part Part
	// Screw is the index of the synchronising screw in the bank, NoScrew for none, and ScrewName
	// its name.
	Screw     int
	ScrewName string
	// Cylinder is the one at fault, or the one whose pilot screw it is, from 1; 0 for none.
	Cylinder  int
	Direction Direction
	// Turns is how far to turn, 0 or more; NaN when no amount is told. A turn of a synchronising
	// screw without an amount goes on until told to stop, at the tempo that Why tells.
	Turns float64
	Why   Why
	// Again is that of WhyNoAnswer: the same screw has not answered when it was named before, either; and that of
	// WhyTry: nothing was seen of the try before.
	Again bool
	// Answered is that of WhyNoAnswer: the screw has answered since it was named, and does no more: the hand pauses, or
	// has turned by less than is seen.
	Answered bool
	// Last is the cylinder that is levelled after this screw, where the spread grows on the way, from 1; 0 for none.
	Last int
	// Next is the name of the screw that most likely comes after the lock nut that is asked for, "" for none, and
	// NextWay which way it is turned then: a hand that has done the nut can go there.
	Next    string
	NextWay Direction
}

// New returns an advice about a part, without screw, cylinder, direction and amount.
func New(kind Kind, part Part, why Why) Advice {
	return Advice{Kind: kind, Part: part, Screw: NoScrew, Turns: math.NaN(), Why: why}
}

// Same reports whether another advice tells the same to do.
func (a *Advice) Same(b *Advice) bool {
	return a.Kind == b.Kind && a.Why == b.Why && a.Part == b.Part && a.Screw == b.Screw && a.Cylinder == b.Cylinder &&
		a.Direction == b.Direction && a.SameTurns(b)
}

// SameTurns reports whether another advice tells the same amount, or neither tells one.
func (a *Advice) SameTurns(b *Advice) bool {
	return a.Turns == b.Turns || math.IsNaN(a.Turns) && math.IsNaN(b.Turns)
}

// ToTurn reports whether the advice is to turn that part, either way.
func (a *Advice) ToTurn(part Part) bool {
	return a.Part == part && (a.Kind == Turn || a.Kind == Reverse)
}

// SignedTurns returns how far to turn, clockwise positive; NaN when no amount is told.
func (a *Advice) SignedTurns() float64 { return a.Direction.Sign() * a.Turns }
