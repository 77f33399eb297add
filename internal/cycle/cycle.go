package cycle

import (
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// MaxCylinders is the largest number of cylinders a Tracker follows.
const MaxCylinders = sensor.MaxChannels

// State is the health of a cylinder's channel.
type State string

// The states of a channel.
const (
	OK        State = "ok"
	NoPulse   State = "no-pulse"
	Ambient   State = "ambient" // hose off
	WeakPulse State = "weak-pulse"
	RailLow   State = "rail-low"
	RailHigh  State = "rail-high"
	CutOff    State = "cut-off" // its dips end in a flat floor: beyond the sensor's range
	Pinched   State = "pinched" // its pulse shrank at once while the others' stayed
	// ShowsLess is of a channel whose swing and mean both fall short of the others' by the same share: a
	// split hose, or a sensor of another kind.
	ShowsLess  State = "shows-less"
	Restricted State = "restricted" // passed on as by a small jet or a split, the others' not: a wrong mean
	Stale      State = "stale"      // no samples: of no span, but of the time between
)

// DefaultMinRPM and DefaultMaxRPM bound the speed that is looked for. Chosen: a starter turns an
// engine at 200 to 400 rpm, the look at a raised speed goes up to 5000.
const (
	DefaultMinRPM = 300
	DefaultMaxRPM = 7000
)

// rpmSeconds is the period of a cycle in s times the speed in rpm: a cycle is two turns.
const rpmSeconds = 120

// Config says what a Tracker looks at.
type Config struct {
	// Channels gives the channel of each cylinder, by cylinder - 1.
	Channels []int
	// Ambient is the absolute air pressure: a channel that stays at it has no hose.
	Ambient pressure.KPa
	// ZeroBand is how far the sensors' zeros may be off where no zero pass was taken; 0 where one was.
	ZeroBand pressure.KPa
	// MinRPM and MaxRPM bound the speed looked for; 0 is the default.
	MinRPM, MaxRPM float64
}

// Span is a stretch of samples: one engine cycle, or a quarter of a second in
// which there was none. Arrays are by cylinder - 1.
type Span struct {
	Start  float64 // seconds since the start of the stream
	Period float64 // its length in seconds
	// Cycle is set when the span is exactly one engine cycle.
	Cycle bool
	// Gap is set when samples are missing in it: see Whole.
	Gap bool
	// Missing is how many seconds of samples are missing in it. Means go straight
	// across them; gaps_test.go measures how little a few of them matter.
	Missing float64
	// Upset is set of a cycle around whose start or end the air moved otherwise all at once, as where a throttle is
	// opened or a hose comes off: where that end lies is in doubt, and its means may be kPa off. See Whole.
	Upset bool
	// Break is set on the first span after a loss of continuity, and Silence is how
	// many seconds of samples were missing then.
	Break   bool
	Silence float64
	N       int // cylinders
	// Mean is the absolute pressure averaged over the span.
	Mean [MaxCylinders]pressure.KPa
	// Lowest and Highest are the extremes of the absolute pressure.
	Lowest, Highest [MaxCylinders]pressure.KPa
	// DipAt is when the lowest came, as a share of the span, 0 to below 1; in a
	// cycle, the middle of the dip of the mean of the last cycles. Near a boundary
	// it may jump between 0 and 1: take its mean on a circle.
	DipAt [MaxCylinders]float64
	State [MaxCylinders]State
	// Opening is in proportion to the effective area of the butterfly over the
	// volume of the runner, 1/s: compare it between cylinders. NaN when it can't be
	// had; in a cycle NoOpening is why then.
	Opening [MaxCylinders]float64
	// Refill is the pace of the refill as felt, 1/s: as Opening, but with the hose's lag in it, so that it tells
	// changes of a butterfly alone. NaN where there is none.
	Refill    [MaxCylinders]float64
	NoOpening [MaxCylinders]NoOpening
	// Lag is the time constant of hose and sensor in seconds, NaN when unknown.
	// The means and the start are free of it; Lowest, Highest and DipAt are as
	// the sensor felt them.
	Lag [MaxCylinders]float64
	// Hose is what the refill shows of the hose, "" while nothing is known.
	Hose [MaxCylinders]HoseKind
	// Damping is the share of the runner's swing that hose and sensor take away, NaN
	// when unknown: the runner's own swing is Ripple / (1 - Damping).
	Damping [MaxCylinders]float64
	// Misfire is set when a charge of the cylinder did not burn, some four cycles after that; in each cycle
	// of a cylinder that never fires. See package misfire for what can't be seen.
	Misfire [MaxCylinders]bool
	// Either is set when a charge of one of these cylinders did not burn, and it can't be told whose.
	Either [MaxCylinders]bool
	// Fell is set while the speed stands where it dropped to at once, no butterfly having been shut: a cylinder may
	// have stopped firing. Stopped is which, from 1; 0 where that is unknown.
	Fell    bool
	Stopped int
}

// maxMissingShare is the share of a cycle that may be missing while its means can
// still be trusted. Measured: with 1 to 5 % of the samples lost here and there
// the difference of two cylinders is 0.013 to 0.021 kPa off (rms).
const maxMissingShare = 0.03

// Whole reports whether the span's means can be trusted: nothing, or next to
// nothing, is missing in it, and its ends are not in doubt.
func (s *Span) Whole() bool { return !s.Upset && (!s.Gap || s.Missing < maxMissingShare*s.Period) }

// End returns the time at which the span ends.
func (s *Span) End() float64 { return s.Start + s.Period }

// RPM returns the engine speed of a cycle: 120 / period; 0 when the span is none.
func (s *Span) RPM() float64 {
	if !s.Cycle {
		return 0
	}
	return rpmSeconds / s.Period
}

// Ripple returns the peak-to-peak swing of a cylinder's pressure in the span.
func (s *Span) Ripple(cylinder int) pressure.KPa {
	return s.Highest[cylinder-1] - s.Lowest[cylinder-1]
}
