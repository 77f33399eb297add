package engine

import "math"

// The runner: what lies between butterfly and intake valve.
const (
	// runnerM3 is its volume: rubber boot and port. Chosen.
	runnerM3 = 60e-6
	// runnerK is the temperature of its gas, held by the warm walls. Chosen.
	runnerK = 320.0
	// outsideK is the temperature of the air before the butterfly. Chosen.
	outsideK = 300.0

	// plateSteepest and valveSteepest regularise the nozzle function near equal
	// pressures, see nozzle: above ratios of about 0.998 and 0.98. The valve's
	// bound keeps valveStepS stable.
	plateSteepest = 31.6
	valveSteepest = 10.0

	// stepS is the longest time step, valveStepS the one of a cylinder whose
	// valve is open. Measured: halving both moves a cycle mean by less than
	// 0.02 kPa (engine_test.go).
	stepS      = 125e-6
	valveStepS = 25e-6
)

var (
	runnerRoot  = math.Sqrt(gasConstant * runnerK)
	outsideRoot = math.Sqrt(gasConstant * outsideK)
)

// breath is the gas path of one cylinder: ambient, butterfly, runner, valve,
// cylinder. The runner is isothermal.
type breath struct {
	volume float64 // runner's, m3
	mass   float64 // gas in the runner, kg
	area   float64 // butterfly's effective area, m2
	entry  float64 // net mass through the butterfly since the start, kg
	exit   float64 // net mass through the valve since the start, kg

	cylinder charge
	open     bool
	trapped  float64 // fresh charge of the last closed valve, kg
}

// setPressure fills the runner to a pressure in Pa absolute.
func (b *breath) setPressure(pa float64) { b.mass = pa * b.volume / (gasConstant * runnerK) }

// pressure returns the runner's pressure in Pa absolute.
func (b *breath) pressure() float64 { return b.mass * gasConstant * runnerK / b.volume }

// advance moves the gas over a time h in s from crank angle from by turn degrees.
// ambient is in Pa absolute; with its valve open it takes parts steps. It returns the
// integral of the runner's pressure over the time (Pa s) and the work that the
// gas does on the piston against ambient during its downward stroke (J).
func (b *breath) advance(h, from, turn, ambient float64, parts int) (integral, work float64) {
	if from+turn <= valveOpenDegrees || from >= valveShutDegrees {
		if b.open {
			b.open, b.trapped = false, b.cylinder.fresh
		}
		return b.refill(h, ambient), 0
	}
	if !b.open {
		b.open = true
		b.cylinder.begin(from, ambient)
	}
	part := 1 / float64(parts)
	for i := range parts {
		pi, w := b.draw(h*part, from+turn*part*float64(i), turn*part, ambient)
		integral += pi
		work += w
	}
	return integral, work
}

// refill moves the runner alone, its valve shut, by one midpoint step.
func (b *breath) refill(h, ambient float64) float64 {
	toPressure := gasConstant * runnerK / b.volume
	steepest := min(plateSteepest, b.volume/(b.area*runnerRoot*h))
	p0 := b.mass * toPressure
	flow := orifice(b.area, ambient, outsideRoot, p0, runnerRoot, steepest)
	mid := p0 + flow*toPressure*h/2
	dm := h * orifice(b.area, ambient, outsideRoot, mid, runnerRoot, steepest)
	b.mass += dm
	b.entry += dm
	return h * (p0 + b.mass*toPressure) / 2
}

// draw moves runner and cylinder by one midpoint step while the valve is open.
func (b *breath) draw(h, from, turn, ambient float64) (integral, work float64) {
	const cp = gamma / (gamma - 1) * gasConstant
	c := &b.cylinder
	toPressure := gasConstant * runnerK / b.volume
	steepest := min(plateSteepest, b.volume/(b.area*runnerRoot*h))
	_, a0 := atCrank(from)
	v1, a1 := atCrank(from + turn/2)
	v2, _ := atCrank(from + turn)
	v0 := c.volume
	v1, v2 = v1*c.scale, v2*c.scale

	pr := b.mass * toPressure
	pc := (gamma - 1) * c.energy / v0
	in := orifice(b.area, ambient, outsideRoot, pr, runnerRoot, steepest)
	out, temperature := b.valve(a0, pr, pc, v0, c.mass)
	energy := c.energy + cp*temperature*out*h/2 - pc*(v1-v0)
	mass := c.mass + out*h/2
	prMid := pr + (in-out)*h/2*toPressure
	pcMid := (gamma - 1) * energy / v1

	in = h * orifice(b.area, ambient, outsideRoot, prMid, runnerRoot, steepest)
	out, temperature = b.valve(a1, prMid, pcMid, v1, mass)
	out *= h
	c.energy += cp*temperature*out - pcMid*(v2-v0)
	c.mass += out
	c.fresh += out
	c.volume = v2
	b.mass += in - out
	b.entry += in
	b.exit += out
	if from >= intakeTopDegrees && from < bottomDegrees {
		work = (pcMid - ambient) * (v2 - v0)
	}
	return h * (pr + b.mass*toPressure) / 2, work
}

// valve returns the flow in kg/s from the runner (Pa absolute) to the cylinder
// (Pa absolute, m3, kg), negative when it goes back, and the temperature in K of
// what flows.
func (b *breath) valve(area, runner, cylinder, volume, mass float64) (flow, temperature float64) {
	if runner >= cylinder {
		return area * runner / runnerRoot * nozzle(cylinder/runner, valveSteepest), runnerK
	}
	rt := cylinder * volume / mass
	return -area * cylinder / math.Sqrt(rt) * nozzle(runner/cylinder, valveSteepest), rt / gasConstant
}
