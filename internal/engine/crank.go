package engine

import (
	"math"

	"evendraw/internal/bank"
)

// The crank.
const (
	// Friction and accessories as mean effective pressure, Pa, and its rise
	// with speed, Pa per rad/s. Chosen so that butterflies at idleDegrees hold
	// about UsualIdleRPM.
	frictionPa     = 95e3
	frictionRisePa = 270.0

	// Moment of inertia, kg m2: of the engine and for each cylinder. Chosen.
	inertiaBase        = 0.01
	inertiaPerCylinder = 0.01

	// UsualIdleRPM is the idle speed that the model was made for. Chosen.
	UsualIdleRPM = 1050.0
	// stallRPM is the speed below which nothing burns unless the starter turns.
	// Chosen.
	stallRPM = 400.0
	// The starter: free speed, speed at which it lets go, torque at rest over
	// the engine's friction, longest time. Chosen: it cranks at about 250 rpm.
	starterFreeRPM    = 500.0
	starterReleaseRPM = 600.0
	starterTorque     = 2.2
	maxStarterS       = 5.0

	radPerSPerRPM = 2 * math.Pi / 60
	// atRestRadS is the speed below which the crank sticks. Chosen.
	atRestRadS = 0.5
)

// crank is the crankshaft, common to all cylinders.
type crank struct {
	n       int
	degrees float64                    // 0 to below 720, 0 where the first of the order fires
	radS    float64                    // speed
	fires   [bank.MaxCylinders]float64 // firing angle of each cylinder
	work    [bank.MaxCylinders]float64 // of the combustion under way, J
	pumping float64                    // torque of the gas exchange in the last step, N m

	ignition bool
	starterS float64 // time left for the starter
	drag     float64 // friction over that of a warm engine
}

// rpm returns the speed of the moment.
func (k *crank) rpm() float64 { return k.radS / radPerSPerRPM }

// angle returns a cylinder's crank angle after its firing top, 0 to below 720.
func (k *crank) angle(i int) float64 {
	a := k.degrees - k.fires[i]
	if a < 0 {
		a += cycleDegrees
	}
	return a
}

// running reports whether the engine turns by itself.
func (k *crank) running() bool { return k.ignition && k.rpm() >= stallRPM }

// canIgnite reports whether a charge can burn now.
func (k *crank) canIgnite() bool { return k.ignition && (k.rpm() >= stallRPM || k.starterS > 0) }

// friction returns the torque of friction and accessories in N m.
func (k *crank) friction() float64 {
	return k.drag * (frictionPa + frictionRisePa*k.radS) * sweptM3 * float64(k.n) / (4 * math.Pi)
}

// torque returns the sum of all torques in N m. Each combustion gives its work
// over the half turn after its top dead centre as (1 - cos 2a)/pi.
func (k *crank) torque() float64 {
	t := k.pumping - k.friction()
	for i := range k.n {
		if a := k.angle(i); k.work[i] > 0 && a < 180 {
			s := math.Sin(a * math.Pi / 180)
			t += k.work[i] / math.Pi * 2 * s * s
		}
	}
	if k.starterS > 0 {
		t += starterTorque * frictionPa * sweptM3 * float64(k.n) / (4 * math.Pi) *
			max(1-k.rpm()/starterFreeRPM, 0)
	}
	return t
}

// advance moves the speed over a time h and returns the degrees of crank it
// turns in that time; the angle is moved by turn.
func (k *crank) advance(h float64) (turnDegrees float64) {
	before := k.radS
	if k.radS > 0 || k.starterS > 0 {
		k.radS += h * k.torque() / (inertiaBase + inertiaPerCylinder*float64(k.n))
	}
	if k.starterS > 0 {
		if k.starterS -= h; k.rpm() > starterReleaseRPM {
			k.starterS = 0
		}
	} else if k.radS < atRestRadS {
		k.radS = 0
	}
	k.radS = max(k.radS, 0)
	return (before + k.radS) / 2 * h * 180 / math.Pi
}

// turn moves the angle and reports whether a new cycle began, and which part of
// the turn lay before it.
func (k *crank) turn(turnDegrees float64) (wrapped bool, before float64) {
	k.degrees += turnDegrees
	if k.degrees < cycleDegrees {
		return false, 1
	}
	k.degrees -= cycleDegrees
	return true, 1 - k.degrees/turnDegrees
}
