package engine

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// The linkage.
const (
	// idleDegrees is the plate angle of a level bank at idleRPM. Measured: gives
	// a draw of about 25 kPa.
	idleDegrees = 10.45
	// drawPerLogArea is how far a cylinder's draw at idle falls when its own
	// butterfly's area grows by a factor e, kPa. Measured on the model.
	drawPerLogArea = 15.5

	// mostIdleDegrees bounds how far the throttle stop of a bike stands from
	// idleDegrees. Chosen: idles from about 1000 to 1170 rpm.
	mostIdleDegrees = 0.25

	// A screw's effect at idle in kPa of draw per turn lies between these, its
	// sign by chance. Range: what a mechanic would call a lively and a lazy screw
	// (common practice, no source).
	leastEffectKPa, mostEffectKPa = 2.0, 6.0
	// mostCurve bounds the relative change of a screw's effect per turn. Chosen.
	mostCurve = 0.06
	// ScrewTravel is how far a screw turns from where it stood at the start
	// before it meets its end, in turns either way. Chosen.
	ScrewTravel = 6.0
	// stopDegreesPerTurn is what the throttle stop moves all plates by. Chosen.
	stopDegreesPerTurn = 0.7
	// StopTravel is the throttle stop's travel either way in turns. Chosen.
	StopTravel = 10.0
	// handTurnsPerS is how fast a hand turns a screw. Chosen.
	handTurnsPerS = 0.5

	// A blip opens all plates by blipDegrees for about a second.
	blipDegrees  = 12.0
	blipS, rampS = 1.0, 0.15
)

// screw is one synchronising screw, or the throttle stop.
type screw struct {
	at, want float64      // turns from the start, clockwise
	travel   float64      // either way
	degrees  float64      // of plate per turn at the start
	curve    float64      // relative change of that per turn
	effect   pressure.KPa // on the draw of what it moves, per turn at the start
}

// lift returns what the screw moves its plates by, in degrees.
// A screw with play would hold its plates back here.
func (s *screw) lift() float64 { return s.degrees * (s.at + s.curve/2*s.at*s.at) }

// turn sets out to turn by so many turns, to the end of the travel at most.
func (s *screw) turn(turns float64) {
	if !math.IsNaN(turns) {
		s.want = min(max(s.want+turns, -s.travel), s.travel)
	}
}

// follow moves the screw towards where it is wanted and reports whether it moved.
func (s *screw) follow(h float64) bool {
	if s.at == s.want {
		return false
	}
	reach := handTurnsPerS * h
	s.at += min(max(s.want-s.at, -reach), reach)
	return true
}

// linkage holds where every butterfly stands.
type linkage struct {
	bank   bank.Bank
	base   [bank.MaxCylinders]float64 // plate angle at the start
	screws []screw
	stop   screw
	blipS  float64 // time left of a blip
}

// newLinkage makes a linkage whose cylinders' draws stand apart by about uneven
// at idle.
func newLinkage(b bank.Bank, uneven pressure.KPa, random *rand.Rand) *linkage {
	l := &linkage{bank: b, stop: screw{travel: StopTravel, degrees: stopDegreesPerTurn}}
	idle := plateArea(idleDegrees + mostIdleDegrees*(2*random.Float64()-1))
	perDegree := math.Log(plateArea(idleDegrees+0.01)/plateArea(idleDegrees)) / 0.01
	for range b.Screws {
		effect := leastEffectKPa + (mostEffectKPa-leastEffectKPa)*random.Float64()
		if random.Uint64()&1 == 0 {
			effect = -effect
		}
		curve := mostCurve * (2*random.Float64() - 1)
		l.screws = append(l.screws, screw{travel: ScrewTravel,
			degrees: -effect / (drawPerLogArea * perDegree), curve: curve, effect: pressure.KPa(effect)})
	}
	var away [bank.MaxCylinders]float64
	least, most, sum := math.Inf(1), math.Inf(-1), 0.0
	for i := range b.Cylinders {
		away[i] = random.Float64()
		least, most, sum = min(least, away[i]), max(most, away[i]), sum+away[i]
	}
	for i := range b.Cylinders {
		kpa := 0.0
		if most > least {
			kpa = float64(uneven) * (away[i] - sum/float64(b.Cylinders)) / (most - least)
		}
		l.base[i] = plateAngle(idle * math.Exp(-kpa/drawPerLogArea))
	}
	return l
}

// follow moves the screws and the throttle over a time h and reports whether any
// plate moved.
func (l *linkage) follow(h float64) bool {
	moved := l.stop.follow(h)
	for i := range l.screws {
		moved = l.screws[i].follow(h) || moved
	}
	if l.blipS > 0 {
		l.blipS = max(l.blipS-h, 0)
		moved = true
	}
	return moved
}

// turning reports whether a screw or the stop is still on its way.
func (l *linkage) turning() bool {
	for i := range l.screws {
		if l.screws[i].at != l.screws[i].want {
			return true
		}
	}
	return l.stop.at != l.stop.want
}

// blip returns by how many degrees a blip opens all plates now.
func (l *linkage) blip() float64 {
	return blipDegrees * min(l.blipS/rampS, (blipS-l.blipS)/rampS, 1)
}

// area returns the effective area in m2 of the butterfly of cylinder i + 1.
func (l *linkage) area(i int) float64 {
	angle := l.base[i] + l.stop.lift()
	for s := range l.screws {
		if l.bank.Moves(s, i+1) {
			angle += l.screws[s].lift()
		}
	}
	if l.blipS > 0 {
		angle += l.blip()
	}
	return plateArea(angle)
}
