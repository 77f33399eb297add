package engine

import (
	"math"

	"evendraw/internal/bank"
)

// The lambda probe and its controller.
const (
	// A linear controller: 0 V is leastLambda, 5 V mostLambda. Chosen; real ones differ
	// and can be set.
	minLambda, maxLambda = 0.5, 1.5
	// probeDelayS is how long exhaust takes to the probe at idle, probeLagS the time
	// constant of probe and controller. Chosen: half a second and less are common.
	probeDelayS = 0.25
	probeLagS   = 0.15
	// probeStepS is how often the probe is moved. Chosen.
	probeStepS = 0.01
)

// probe is a wide-band lambda probe in the exhaust of one cylinder or of all.
type probe struct {
	channel channel // converter only
	of      int     // index of the cylinder, or -1 for all
	number  int     // the board's channel
	exhaust [bank.MaxCylinders]float64
	delay   delay
	out     float64 // lambda that the controller shows
	sinceS  float64
}

// newProbe returns a probe in air.
func newProbe(c *Config, number int) *probe {
	p := &probe{of: c.LambdaOf - 1, number: number, delay: newDelay(probeDelayS, probeStepS), out: maxLambda}
	p.channel.steps = float64(int(1) << c.Bits)
	for i := range p.exhaust {
		p.exhaust[i] = exhaustWithoutFire
	}
	p.delay.fill(exhaustWithoutFire)
	return p
}

// feel moves the probe over a time h in s, with n cylinders; a standing engine's exhaust
// is air.
func (p *probe) feel(h float64, n int, turning bool) {
	if p.sinceS += h; p.sinceS < probeStepS {
		return
	}
	p.sinceS -= probeStepS
	lambda := exhaustWithoutFire
	switch {
	case !turning:
	case p.of >= 0 && p.of < n:
		lambda = p.exhaust[p.of]
	default: // mixed: oxygen and fuel add up, roughly in proportion to 1/lambda
		phi := 0.0
		for _, l := range p.exhaust[:n] {
			phi += 1 / l
		}
		lambda = float64(n) / phi
	}
	lambda = min(max(p.delay.step(lambda), minLambda), maxLambda)
	p.out += (lambda - p.out) * (1 - math.Exp(-probeStepS/probeLagS))
}

// read returns the converter's count.
func (p *probe) read(nowS float64) uint16 {
	ratio := (p.out - minLambda) / (maxLambda - minLambda)
	return p.channel.convert(ratio + p.channel.spike(nowS))
}
