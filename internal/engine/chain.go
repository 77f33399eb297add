package engine

import (
	"math"
	"math/rand/v2"
)

// The measuring chain of one channel: hose, sensor, converter.
const (
	// Hose lag, first order, s. Chosen: short hoses of unequal length and bore.
	leastHoseS, mostHoseS = 2e-3, 6e-3
	// sensorS is the time constant of a first-order sensor whose response from
	// 10 to 90 % takes 1.0 ms, as the datasheet of the MPX4115A gives it:
	// 1.0 ms / ln 9.
	sensorS = 0.455e-3
	// mostOffsetKPa is the datasheet's tolerance of the MPX4115A from 0 to 85 C.
	mostOffsetKPa = 1.5
	// mostGain bounds the relative error of the slope; noiseKPa is the rms noise
	// of sensor and supply in terms of pressure. Chosen.
	mostGain = 0.01
	noiseKPa = 0.08

	// Transfer function of the MPX4115A over its supply (datasheet):
	// V/Vs = 0.009 P - 0.095, P in kPa absolute.
	slopePerKPa  = 0.009
	offsetRatio  = -0.095
	bits         = 10
	referenceMV  = 5000
	channelGapUs = 112 // between channels: 13 cycles at 125 kHz and a few µs, as PROTOCOL.md's example
)

// lag is a first-order lag, exact for an input that is linear over a step.
type lag struct {
	out                    float64
	keep, fromOld, fromNew float64
}

// newLag returns a lag of time constant tau for steps of h, both in s; with
// tau 0 it passes its input through.
func newLag(tau, h float64) lag {
	if tau <= 0 {
		return lag{fromNew: 1}
	}
	keep := math.Exp(-h / tau)
	part := (1 - keep) * tau / h
	return lag{keep: keep, fromOld: part - keep, fromNew: 1 - part}
}

// step moves the lag by a step in which the input went from old to new.
func (l *lag) step(old, new float64) float64 {
	l.out = l.keep*l.out + l.fromOld*old + l.fromNew*new
	return l.out
}

// channel is one measuring chain; pressures are kPa absolute.
type channel struct {
	input, atSensor float64 // at the end of the last step
	hose, sensor    lag
	offset          float64 // kPa
	gain            float64 // 1 is true
	noise           float64 // rms, kPa
	atStep          int     // of a sampling period: where the converter samples
	atPart          float64 // of that step
}

// newChannel makes a chain with errors by chance for steps of h in s. Each error
// is drawn in any case, so that leaving one out does not change the others.
func newChannel(c *Config, h float64, random *rand.Rand) channel {
	hose := leastHoseS + (mostHoseS-leastHoseS)*random.Float64()
	offset := mostOffsetKPa * (2*random.Float64() - 1)
	gain := mostGain * (2*random.Float64() - 1)
	ch := channel{gain: 1}
	tau := sensorS
	if c.NoLag {
		hose, tau = 0, 0
	}
	if !c.NoSensorErrors {
		ch.offset, ch.gain = offset, 1+gain
	}
	if !c.NoNoise {
		ch.noise = noiseKPa
	}
	ch.hose, ch.sensor = newLag(hose, h), newLag(tau, h)
	return ch
}

// sampleAt has the converter sample delay s after the frame's tick; steps are h s.
func (c *channel) sampleAt(delay, h float64) {
	c.atStep = int(delay / h)
	c.atPart = delay/h - float64(c.atStep)
}

// settle puts the whole chain at one pressure.
func (c *channel) settle(kpa float64) {
	c.input, c.atSensor, c.hose.out, c.sensor.out = kpa, kpa, kpa, kpa
}

// step moves the chain to the runner's new pressure and returns what the sensor
// felt at the beginning and the end of the step.
func (c *channel) step(kpa float64) (before, after float64) {
	before = c.sensor.out
	atSensor := c.hose.step(c.input, kpa)
	after = c.sensor.step(c.atSensor, atSensor)
	c.input, c.atSensor = kpa, atSensor
	return before, after
}

// convert returns the converter's count for what the sensor feels.
func (c *channel) convert(kpa float64, random *rand.Rand) uint16 {
	kpa = kpa*c.gain + c.offset
	if c.noise > 0 {
		kpa += c.noise * random.NormFloat64()
	}
	ratio := slopePerKPa*kpa + offsetRatio
	return uint16(min(max(math.Floor(ratio*(1<<bits)), 0), 1<<bits-1))
}
