// Package cycle cuts samples into engine cycles: it finds the cycle's period
// from all channels together, follows it from cycle to cycle, and gives each
// cylinder's mean pressure over exactly one cycle, the speed, and the health of
// each channel.
//
// Tracker is the stage; it gives Spans: one cycle each while the engine turns,
// a quarter of a second each while it doesn't. A cycle is told nearly half a cycle
// after its end.
//
// On the way of a sample: spikes are taken out a few samples behind the newest
// (despike.go); the period is found (acquire.go); each boundary is the same place of
// the crank as the last, by least squares against a template of the cycle in which
// each cylinder's strength is free, but for what the depth of its dip says (follow.go,
// match.go, template.go, strength.go); the cycle is cut there and its means have the
// hoses' lag taken off (tracker.go). Between intake strokes a runner refills through its
// butterfly alone: the mean of its refills shows the lag of its hose (refill.go,
// course.go, lag.go), and the slope of each the opening (opening.go, nozzle.go). Shallow
// dips are misfires (misfire.go), and PulseOrder holds the dips against the firing order
// (hoses.go).
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
	Stale     State = "stale" // no samples: of no span, but of the time between
)

// Default limits of the speed that is looked for, in rpm. Chosen: cranking
// turns an engine at 200 to 400, the raised-speed look reaches 5000.
const (
	DefaultMinRPM = 300
	DefaultMaxRPM = 7000
)

// rpmSeconds is the period of a cycle in s times the speed in rpm: two turns of the crank.
const rpmSeconds = 120

// Config says what a Tracker looks at.
type Config struct {
	// Channels gives the channel of each cylinder, by cylinder - 1.
	Channels []int
	// Ambient is the absolute air pressure; it tells a hose that is off.
	Ambient pressure.KPa
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
	// Gap is set when samples are missing in it: its means are not to be
	// trusted.
	Gap bool
	// Missing is how many seconds of samples are missing in it. A straight line
	// takes their place, which a few of them hardly show: gaps_test.go.
	Missing float64
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
	// cycle, the middle of the dip of the mean of the last cycles. It may lie
	// just before one cycle's end or just after its start: take means round the
	// circle.
	DipAt [MaxCylinders]float64
	State [MaxCylinders]State
	// Opening is a figure in proportion to the effective area of the butterfly
	// over the volume of the runner, 1/s: compare it between cylinders. NaN
	// when it can't be had: no cycle, no ambient, a swing too small or a refill
	// that is not a butterfly's, as through a strongly restricted hose.
	Opening [MaxCylinders]float64
	// Lag is the time constant of hose and sensor in seconds, NaN when unknown.
	// The means and the start are free of it; Lowest, Highest and DipAt are as
	// the sensor felt them.
	Lag [MaxCylinders]float64
	// Damping is the share of the swing of the runner's pressure that hose and sensor
	// take away, NaN when unknown: what Ripple over 1 - Damping gives is the runner's
	// own, and its dip lies as much lower.
	Damping [MaxCylinders]float64
	// Misfire is set when the cylinder's dip in this cycle is far shallower than
	// its others, while not all are: see misfire.go for what that can tell.
	Misfire [MaxCylinders]bool
}

// mostMissing is the share of a cycle that may be missing while its means can
// still be trusted. Measured: with 1 to 5 % of the samples lost here and there
// the difference of two cylinders is 0.013 to 0.021 kPa off (rms).
const mostMissing = 0.03

// Whole reports whether the span's means can be trusted: nothing, or next to
// nothing, is missing in it.
func (s *Span) Whole() bool { return !s.Gap || s.Missing < mostMissing*s.Period }

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
