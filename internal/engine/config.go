package engine

import (
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// Defaults of Config.
const (
	DefaultRate    = 1000
	DefaultAmbient = pressure.KPa(101.3)
	DefaultUneven  = pressure.KPa(4)
	DefaultAirC    = 27.0
	DefaultBits    = 10
)

// Config describes a practice engine. Of the zero value only Bank must be set: it is
// then a healthy bike. Lists by cylinder or screw may be shorter than the bank.
type Config struct {
	// Bank gives cylinders, channels, firing and linkage. It must pass its own
	// Check, or be bank.Default(1). The effects of its screws are not used: they are
	// what a card says; the engine's own are by Seed, or by Screws.
	Bank bank.Bank
	// Seed chooses everything that differs from bike to bike and from sample to
	// sample.
	Seed uint64
	// Rate is sampling instants a second, 50 to 5000; 0 is DefaultRate.
	Rate int
	// Ambient is the absolute pressure of the air; 0 is DefaultAmbient. In thinner air
	// the butterflies are set wider, as a mechanic would for the same idle speed.
	Ambient pressure.KPa
	// AirC is the temperature of the air in degrees Celsius; 0 is DefaultAirC.
	AirC float64
	// Uneven is roughly how far the draws stand apart at idle at the start
	// (largest minus smallest); 0 is DefaultUneven. See Level.
	Uneven pressure.KPa
	// IdleRPM is about the speed that the throttle stop is set for at the start, LeastIdleRPM to MostIdleRPM;
	// 0 is UsualIdleRPM.
	IdleRPM float64
	// Level starts with all butterflies alike; Uneven is then not used.
	Level bool
	// Alike makes all cylinders and runners exactly alike; else their volumes
	// differ a little by Seed.
	Alike bool
	// Running starts with the engine idling; else it stands still.
	Running bool
	// Cold starts at the temperature of the air; else the engine is warm.
	Cold bool

	// Roughness is a factor on the scatter of combustion and exhaust from cycle to cycle;
	// 0 is 1, a calm and healthy idle.
	Roughness float64
	// Lumpy makes combustion scatter by 15 % and the idle speed wander by about 80 to
	// 100 rpm either way.
	Lumpy bool
	// Smooth makes every combustion, and its residual gas, alike.
	Smooth bool
	// Defects are what is wrong with each cylinder.
	Defects []Defect
	// PassageMM2 is the effective area of the balance passage from each runner to a pipe
	// that joins them all; 0 is none.
	PassageMM2 float64
	// Screws are the habits of each synchronising screw.
	Screws []ScrewHabit
	// LockNutTurns is the most that a lock nut shifts its setting by, in turns; 0 is
	// 0.05. See LockNut.
	LockNutTurns float64
	// AirScrews makes the pilot screws air screws (out is leaner); else they are fuel
	// screws (out is richer).
	AirScrews bool
	// PilotsOff is the most that the pilot screws stand off their best settings at the
	// start, in turns; by Seed. 0 is all at their best.
	PilotsOff float64

	// NoLag leaves out the hoses' and sensors' lags and delays.
	NoLag bool
	// NoSensorErrors leaves out the sensors' offset and gain errors.
	NoSensorErrors bool
	// NoNoise leaves out the sensors' noise. The converter's steps stay.
	NoNoise bool
	// Hoses are the hoses of each cylinder's sensor.
	Hoses []Hose
	// SensorFaults are what is wrong with each cylinder's sensor.
	SensorFaults []SensorFault
	// Sensors are the kinds of each cylinder's sensor; a zero one is a common absolute sensor of 15 to
	// 115 kPa.
	Sensors []Transfer
	// Drift is the most that the sensors' offsets change by while the engine warms them,
	// over minutes; size and sign by Seed. 0 is none.
	Drift pressure.KPa
	// Sparks has the ignition disturb every channel.
	Sparks bool
	// Bits is the converter's resolution, 10 to 16; 0 is DefaultBits.
	Bits int
	// Lambda adds a lambda probe on the channel after the last one of Bank.
	Lambda bool
	// LambdaOf is the cylinder whose exhaust the probe is in; 0 is the exhaust of all.
	LambdaOf int
	// Faults are what goes wrong on the line between board and host.
	Faults Faults
}

// Defect is what is wrong with a cylinder; the zero value is a sound one.
type Defect struct {
	// Misfire is the probability that a charge does not burn.
	Misfire float64
	// LeakMM2 is the effective area of a leak into the runner: a torn boot, a perished
	// hose. It lets in air without fuel.
	LeakMM2 float64
	// AtHose says that the leak is in a small hose or cap on the runner; else it is in the boot.
	AtHose bool
	// Valve is the intake valve's effective area over a sound one's; 0 is sound.
	Valve float64
	// RingsMM2 is the effective area past rings or valve seats: air from the crankcase
	// replaces charge, and compression is lost.
	RingsMM2 float64
	// Retained is by how much the burnt gas left in the clearance is above a sound
	// cylinder's: an exhaust valve that opens too little or too late.
	Retained pressure.KPa
	// UnburntK is the temperature of what a charge that did not burn leaves in the clearance, K; 0 is the
	// usual one.
	UnburntK float64
	// JetBlocked is the share of its pilot jet that dirt blocks: 0 is clean, 1 lets no
	// fuel through.
	JetBlocked float64
	// SlideHangs is the share of what the twist grip opens that a hanging slide, or a
	// torn diaphragm, keeps shut; idle is not changed.
	SlideHangs float64
}

// ScrewHabit is how a screw is; the zero value is a good one with an effect by Seed.
type ScrewHabit struct {
	// Play is how far it turns, in turns, before its plates follow after a change of
	// direction.
	Play float64
	// Jerk is what a stiff screw gathers, in turns, before its plates follow at once.
	Jerk float64
	// Effect is its effect on the draw of what it moves, per clockwise turn near the
	// start at idle; 0 is by Seed.
	Effect pressure.KPa
}

// Hose joins a cylinder's sensor to a runner; the zero value is a short hose on its own
// cylinder, its length by Seed.
type Hose struct {
	// On is the cylinder whose runner it is really on; 0 is its own.
	On int
	// LagS is the time constant in s of hose and damping jet; 0 is by Seed. A
	// restricted hose has 0.05 and more.
	LagS float64
	// DelayS is how long a pulse takes through it, s, to 0.02; 0 is by Seed.
	DelayS float64
	// RingHz is the frequency at which the air in it swings, 0 none; RingDamping the share of the
	// critical damping, 0 is 0.3.
	RingHz, RingDamping float64
	// JetMM2 is the effective area of a jet in it, and VolumeCC the volume behind that, which it fills
	// by a nozzle's law: slowest near the end of a step. 0 is no jet.
	JetMM2, VolumeCC float64
	// Shows is the share of the runner's vacuum that a split in the hose leaves; 0 is all.
	Shows float64
}

// Transfer is how a sensor turns pressure into voltage: over its supply, slope times pressure and
// intercept, held between Least and Most. The zero value is a common absolute sensor.
type Transfer struct {
	Slope, Intercept float64 // 1/kPa
	Gauge            bool    // the pressure is relative to the air's
	Least, Most      float64 // of voltage over supply; Most 0 is 1
}

// SensorFault is what is wrong with a sensor.
type SensorFault int

// The faults of a sensor.
const (
	SensorSound    SensorFault = iota
	SensorStuck                // gives the same middling voltage whatever happens
	SensorRailLow              // no supply or no signal: 0
	SensorRailHigh             // ground broken: the highest count
	SensorHoseOff              // feels the air; its port on the runner is shut
)

// Faults are what happens to frames on their way; the zero value is a good line. The
// probabilities are for each frame.
type Faults struct {
	// Lost frames never arrive; Duplicated ones arrive twice; BitErrors arrive with
	// one bit wrong.
	Lost, Duplicated, BitErrors float64
	// Overflow is for each sampling instant: the board is too late to send a frame.
	Overflow float64
	// RestartEveryS is after how many s the board starts anew, silent for the first
	// 1.5 s; 0 is never, less than 3 is 3.
	RestartEveryS float64
}

// at returns list[i], or the zero value beyond its end.
func at[T any](list []T, i int) (v T) {
	if i >= 0 && i < len(list) {
		v = list[i]
	}
	return v
}

// setDefaults sets defaults.
func (c *Config) setDefaults() {
	if c.Rate == 0 {
		c.Rate = DefaultRate
	}
	if c.Ambient == 0 {
		c.Ambient = DefaultAmbient
	}
	if c.AirC == 0 {
		c.AirC = DefaultAirC
	}
	if c.Uneven == 0 {
		c.Uneven = DefaultUneven
	}
	if c.Level {
		c.Uneven = 0
	}
	if c.Bits == 0 {
		c.Bits = DefaultBits
	}
	c.Bits = min(max(c.Bits, 10), 16)
	if c.Roughness == 0 {
		c.Roughness = 1
	}
	if c.LockNutTurns == 0 {
		c.LockNutTurns = defaultLockNutTurns
	}
}
