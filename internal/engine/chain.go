package engine

import (
	"math"
	"math/rand/v2"
)

// The measuring chain of one channel: hose, sensor, converter.
const (
	// Hose lag, first order, s. Chosen: short hoses of unequal length and bore.
	minHoseS, maxHoseS = 2e-3, 6e-3
	// Hose delay, s: length over the speed of sound, 343 m/s, for hoses of 0.35 to
	// 0.7 m. Chosen.
	minDelayS, maxDelayS = 1e-3, 2e-3
	delayRoomS           = 0.02
	// sensorS is the time constant of a first-order sensor whose response from
	// 10 to 90 % takes 1.0 ms, as the datasheet of the MPX4115A gives it:
	// 1.0 ms / ln 9.
	sensorS = 0.455e-3
	// maxOffsetKPa is the datasheet's tolerance of the MPX4115A from 0 to 85 C.
	maxOffsetKPa = 1.5
	// maxGainError bounds the relative error of the slope; noiseKPa is the rms noise
	// of sensor and supply in terms of pressure. Chosen.
	maxGainError = 0.01
	noiseKPa     = 0.08

	// Transfer function of the MPX4115A over its supply (datasheet):
	// V/Vs = 0.009 P - 0.095, P in kPa absolute.
	slopePerKPa = 0.009
	offsetRatio = -0.095
	referenceMV = 5000
	stuckRatio  = 0.42 // of a stuck sensor's voltage to the supply, chosen

	// A spark adds or takes away sparkV on every channel; that dies away with the time
	// constant sparkS. Chosen.
	sparkV = 0.7
	sparkS = 0.5e-3

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

// delay delays an input by a fixed time; between steps the input is straight.
type delay struct {
	past  []float64 // ring
	next  int
	whole int // steps
	part  float64
}

// newDelay returns a delay of so many s in steps of h.
func newDelay(s, h float64) delay {
	if s <= 0 {
		return delay{}
	}
	x := min(s, delayRoomS) / h
	d := delay{whole: int(x), part: x - math.Floor(x)}
	d.past = make([]float64, d.whole+2)
	return d
}

// step takes the input at the end of a step and returns what comes out then.
func (d *delay) step(in float64) float64 {
	if d.past == nil {
		return in
	}
	n := len(d.past)
	d.past[d.next] = in
	late := d.next - d.whole
	if late < 0 {
		late += n
	}
	later := late - 1
	if later < 0 {
		later += n
	}
	if d.next++; d.next == n {
		d.next = 0
	}
	return d.past[late] + d.part*(d.past[later]-d.past[late])
}

// fill puts the delay at one input.
func (d *delay) fill(in float64) {
	for i := range d.past {
		d.past[i] = in
	}
}

// channel is one measuring chain; pressures are kPa absolute.
type channel struct {
	input, atSensor float64 // at the end of the last step
	delay           delay
	jet             jet
	ring            ring
	hose, sensor    lag
	shows           float64 // share of the vacuum that gets through a split hose
	airKPa          float64
	kind            Transfer
	offset          float64 // kPa
	drift           float64 // of the offset with a warm sensor, kPa
	gain            float64 // 1 is true
	noise           float64 // rms, kPa
	fault           SensorFault
	spark           float64 // what the last spark added, V
	sparkAtS        float64 // when, in board time
	steps           float64 // of the converter: 2 to its bits
	atStep          int     // of a sampling period: where the converter samples
	atPart          float64 // of that step
}

// chances are the random numbers of the measuring chains. Each is drawn whether it is used
// or not, so that leaving one use out does not change the others.
type chances struct{ sensors, hoses *rand.Rand }

// newChannel makes the chain of cylinder i + 1, with errors by chance, for steps of h
// in s.
func newChannel(c *Config, i int, h float64, random chances) channel {
	hose := minHoseS + (maxHoseS-minHoseS)*random.sensors.Float64()
	offset := maxOffsetKPa * (2*random.sensors.Float64() - 1)
	gain := maxGainError * (2*random.sensors.Float64() - 1)
	late := minDelayS + (maxDelayS-minDelayS)*random.hoses.Float64()
	drift := 2*random.hoses.Float64() - 1
	ch := channel{gain: 1, steps: float64(int(1) << c.Bits), fault: at(c.SensorFaults, i), shows: 1,
		airKPa: float64(c.Ambient), kind: at(c.Sensors, i)}
	fit := at(c.Hoses, i)
	if fit.LagS > 0 {
		hose = fit.LagS
	}
	if fit.DelayS > 0 {
		late = fit.DelayS
	}
	if fit.Shows > 0 {
		ch.shows = fit.Shows
	}
	tau := sensorS
	if c.NoLag {
		hose, tau, late = 0, 0, 0
	}
	if !c.NoSensorErrors {
		ch.offset, ch.gain = offset, 1+gain
	}
	if !c.NoNoise {
		ch.noise = noiseKPa
	}
	ch.drift = float64(c.Drift) * drift
	ch.delay = newDelay(late, h)
	ch.jet, ch.ring = newJet(&fit, h), newRing(&fit, h)
	ch.hose, ch.sensor = newLag(hose, h), newLag(tau, h)
	return ch
}

// sampleAt sets the converter to sample delay s after the frame's tick; steps are h s.
func (c *channel) sampleAt(delay, h float64) {
	c.atStep = int(delay / h)
	c.atPart = delay/h - float64(c.atStep)
}

// settle sets the whole chain to one pressure.
func (c *channel) settle(kpa float64) {
	c.input, c.atSensor, c.hose.out, c.sensor.out, c.jet.kpa, c.ring.out = kpa, kpa, kpa, kpa, kpa, kpa
	c.delay.fill(kpa)
}

// step moves the chain to the runner's new pressure and returns what the sensor
// felt at the beginning and the end of the step.
func (c *channel) step(kpa float64) (before, after float64) {
	before = c.sensor.out
	kpa = c.ring.step(c.jet.step(c.delay.step(c.airKPa + c.shows*(kpa-c.airKPa))))
	atSensor := c.hose.step(c.input, kpa)
	after = c.sensor.step(c.atSensor, atSensor)
	c.input, c.atSensor = kpa, atSensor
	return before, after
}

// read returns the converter's count for the pressure at the sensor at a board time; warm
// is how warm the sensor is, 0 to 1.
func (c *channel) read(kpa, warm, nowS float64, random *rand.Rand) uint16 {
	kpa = kpa*c.gain + c.offset + c.drift*warm
	if c.noise > 0 {
		kpa += c.noise * random.NormFloat64()
	}
	ratio := slopePerKPa*kpa + offsetRatio
	if c.kind.Slope != 0 {
		ratio = c.kind.ratio(kpa, c.airKPa)
	}
	switch c.fault {
	case SensorStuck:
		ratio = stuckRatio
	case SensorRailLow:
		return 0
	case SensorRailHigh:
		ratio = 1
	}
	return c.convert(ratio + c.spike(nowS))
}

// strike adds a spark at a board time, either way.
func (c *channel) strike(nowS float64, random *rand.Rand) {
	c.spark, c.sparkAtS = sparkV, nowS
	if random.Uint64()&1 == 0 {
		c.spark = -sparkV
	}
}

// spike returns what the last spark adds, over the supply.
func (c *channel) spike(nowS float64) float64 {
	age := nowS - c.sparkAtS
	if c.spark == 0 || age < 0 || age > 20*sparkS {
		return 0
	}
	return c.spark * 1000 / referenceMV * math.Exp(-age/sparkS)
}

// convert returns the converter's count for a voltage over its reference.
func (c *channel) convert(ratio float64) uint16 {
	return uint16(min(max(math.Floor(ratio*c.steps), 0), c.steps-1))
}

// ratio returns the voltage over the supply for a pressure in air of airKPa, both absolute.
func (t *Transfer) ratio(kpa, airKPa float64) float64 {
	if t.Gauge {
		kpa -= airKPa
	}
	most := t.Most
	if most == 0 {
		most = 1
	}
	return min(max(t.Slope*kpa+t.Intercept, t.Least), most)
}
