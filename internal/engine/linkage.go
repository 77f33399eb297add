package engine

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// The linkage.
const (
	// idleDegrees is the plate angle of a level bank at UsualIdleRPM. Measured: gives
	// a draw of about 25 kPa.
	idleDegrees = 10.3
	// drawPerLogArea is how far a cylinder's draw at idle falls when its own
	// butterfly's area grows by a factor e, kPa. Measured on the model.
	drawPerLogArea = 16.3

	// maxIdleOffDegrees bounds how far the throttle stop of a bike stands from
	// idleDegrees. Chosen: idles from about 950 to 1160 rpm.
	maxIdleOffDegrees = 0.25

	// idleRPMPerDegree is what the plates' angle changes the idle speed by. Measured on banks of two to four:
	// within 60 rpm from 750 to 2100 rpm, and 110 at MostIdleRPM.
	idleRPMPerDegree = 300.0
	// LeastIdleRPM and MostIdleRPM bound the idle speeds of the practice engine. Measured: below, an uneven bank
	// comes near to a stall; above, the throttle stop comes near to its end.
	LeastIdleRPM, MostIdleRPM = 700.0, 2500.0

	// A screw's effect at idle, kPa of draw per turn, lies between these, with a
	// random sign. Range: what a mechanic would call a lazy and a lively screw (common
	// practice, no source).
	minEffectKPa, maxEffectKPa = 2.0, 6.0
	// maxCurve bounds the relative change of a screw's effect per turn. Chosen.
	maxCurve = 0.06
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

	// defaultLockNutTurns is how far tightening a lock nut shifts its setting at most.
	// Chosen.
	defaultLockNutTurns = 0.05
	// Butterflies' areas go by 1 over ambient to the power thinAirPower. Measured: that
	// holds about the same idle speed from 75 to 101 kPa, though richer.
	thinAirPower = 2.0
)

// linkage holds where every butterfly stands.
type linkage struct {
	bank   bank.Bank
	base   [bank.MaxCylinders]float64 // plate angle at the start
	screws []screw
	stop   screw
	blipS  float64 // time left of a blip
	grip   grip

	shifted bool // by a lock nut, since the last step
}

// newLinkage makes a linkage whose cylinders' draws stand apart by about c.Uneven at
// idle. Every random number is drawn whether it is used or not.
func newLinkage(c *Config, random *rand.Rand) *linkage {
	b := c.Bank
	l := &linkage{bank: b, stop: screw{travel: StopTravel, degrees: stopDegreesPerTurn}}
	degrees := idleDegrees + maxIdleOffDegrees*(2*random.Float64()-1)
	if c.IdleRPM != 0 {
		degrees += (c.IdleRPM - UsualIdleRPM) / idleRPMPerDegree
	}
	idle := plateArea(degrees)
	idle *= math.Pow(float64(DefaultAmbient/c.Ambient), thinAirPower)
	perDegree := math.Log(plateArea(idleDegrees+0.01)/plateArea(idleDegrees)) / 0.01
	for i := range b.Screws {
		effect := minEffectKPa + (maxEffectKPa-minEffectKPa)*random.Float64()
		if random.Uint64()&1 == 0 {
			effect = -effect
		}
		curve := maxCurve * (2*random.Float64() - 1)
		habit := at(c.Screws, i)
		if habit.Effect != 0 {
			effect = float64(habit.Effect)
		}
		l.screws = append(l.screws, screw{travel: ScrewTravel,
			degrees: -effect / (drawPerLogArea * perDegree), curve: curve, effect: pressure.KPa(effect),
			play: habit.Play, jerk: habit.Jerk})
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
			kpa = float64(c.Uneven) * (away[i] - sum/float64(b.Cylinders)) / (most - least)
		}
		l.base[i] = plateAngle(idle * math.Exp(-kpa/drawPerLogArea))
	}
	return l
}

// follow moves the screws and the throttle over a time h and reports whether any
// plate moved.
func (l *linkage) follow(h float64) bool {
	moved := l.stop.follow(h) || l.shifted
	l.shifted = false
	for i := range l.screws {
		moved = l.screws[i].follow(h) || moved
	}
	if l.blipS > 0 {
		l.blipS = max(l.blipS-h, 0)
		moved = true
	}
	return moved
}

// lockNut shifts a screw's setting a little, by chance, at most by so many turns.
func (l *linkage) lockNut(s int, most float64, random *rand.Rand) {
	l.screws[s].nut += most * (2*random.Float64() - 1)
	l.shifted = true
}

// turnsMade returns the turns made at all screws, either way.
func (l *linkage) turnsMade() float64 {
	sum := l.stop.turnsMade
	for i := range l.screws {
		sum += l.screws[i].turnsMade
	}
	return sum
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

// area returns the effective area in m2 of the butterfly of cylinder i + 1, with the
// twist grip or as at idle.
func (l *linkage) area(i int, grip bool) float64 {
	angle := l.base[i] + l.stop.lift()
	for s := range l.screws {
		if l.bank.Moves(s, i+1) {
			angle += l.screws[s].lift()
		}
	}
	if grip {
		angle += l.grip.degrees
		if l.blipS > 0 {
			angle += l.blip()
		}
	}
	return plateArea(angle)
}
