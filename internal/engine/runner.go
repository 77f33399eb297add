package engine

import "math"

// The runner: what lies between butterfly and intake valve.
const (
	// runnerM3 is its volume: rubber boot and port. Chosen.
	runnerM3 = 60e-6
	// runnerRiseK is how much warmer than the air its gas is on a warm engine: held by
	// the warm walls. Chosen.
	runnerRiseK = 20.0
	// celsiusK is 0 degrees Celsius in K. Standard value, rounded.
	celsiusK = 273.0
	// outsideK and runnerK are the temperatures of air and runner of a warm engine at
	// DefaultAirC. Derived.
	outsideK = celsiusK + DefaultAirC
	runnerK  = outsideK + runnerRiseK

	// pipeM3 is the volume of the pipe that joins the runners of a bike with balance
	// passages. Chosen.
	pipeM3 = 30e-6

	// plateSteepest and valveSteepest bound the nozzle function near equal pressures,
	// see nozzle: above ratios of about 0.998 and 0.98. The valve's bound keeps steps of
	// valveStepS stable.
	plateSteepest = 31.6
	valveSteepest = 10.0
	// valveLinear is a ratio from which valveSteepest always bounds the nozzle function. Derived: that function's
	// square is 2 d - 2.14 d² with d = 1 - r, so that 10 d is less up to d = 0.0196.
	valveLinear = 0.982

	// stepS is the longest time step, valveStepS the one of a cylinder whose
	// valve is open. Measured: halving both moves a cycle mean by less than
	// 0.02 kPa (engine_test.go).
	stepS      = 125e-6
	valveStepS = 25e-6
)

// breath is the gas path of one cylinder: ambient, butterfly, runner, valve,
// cylinder. The runner is isothermal.
type breath struct {
	volume float64 // runner's, m3
	mass   float64 // gas in the runner, kg
	area   float64 // butterfly's effective area, m2
	leak   float64 // effective area of what leaks in beside it, m2
	entry  float64 // net mass through butterfly and leak since the start, kg
	exit   float64 // net mass through the valve since the start, kg
	passed float64 // net mass that came through balance passages since the start, kg

	rt, root, outsideRoot float64 // of the runner, and of the air: see setAir
	kelvin                float64 // of the runner

	cylinder charge
	open     bool
	trapped  float64 // fresh charge of the last closed valve, kg
	residual float64 // share of the last trapped gas that was burnt before
}

// makeBreath returns a sound gas path of standard size on a warm engine, without heat to
// the walls, at a pressure of 0.
func makeBreath() breath {
	b := breath{volume: runnerM3, cylinder: charge{scale: 1, valve: 1, leftK: residualK}}
	b.setAir(outsideK, runnerK)
	return b
}

// setAir sets the temperatures of air and runner, K. The runner's gas keeps its mass.
func (b *breath) setAir(outside, runner float64) {
	b.rt = gasConstant * runner
	b.root = math.Sqrt(b.rt)
	b.kelvin = b.rt / gasConstant
	b.outsideRoot = math.Sqrt(gasConstant * outside)
}

// setPressure fills the runner to a pressure in Pa absolute.
func (b *breath) setPressure(pa float64) { b.mass = pa * b.volume / b.rt }

// pressure returns the runner's pressure in Pa absolute.
func (b *breath) pressure() float64 { return b.mass * b.rt / b.volume }

// advance moves the gas over a time h, s, while the crank turns by turn degrees from the angle
// from; ambient is in Pa absolute. While the valve is open it takes parts steps. It returns the
// integral of the runner's pressure over the time, Pa s, and the work that the gas does on the
// piston against ambient during the downward stroke, J.
func (b *breath) advance(h, from, turn, ambient float64, parts int) (integral, work float64) {
	if from+turn <= valveOpenDegrees || from >= valveShutDegrees {
		if b.open {
			b.open, b.trapped = false, b.cylinder.fresh
			b.residual = 1 - b.cylinder.fresh/b.cylinder.mass
		}
		return b.refill(h, ambient), 0
	}
	if !b.open {
		b.open = true
		b.cylinder.begin(from, ambient)
	}
	part := 1 / float64(parts)
	d := b.door(h*part, ambient)
	for i := range parts {
		pi, w := b.draw(d, from+turn*part*float64(i), turn*part)
		integral += pi
		work += w
	}
	return integral, work
}

// midpoint returns by how much y changes over h when it changes at a rate that depends
// on it: the midpoint rule, of second order.
func midpoint(y, h float64, rate func(y float64) float64) float64 {
	return h * rate(y+h/2*rate(y))
}

// steepest returns the bound of the nozzle function at the butterfly that keeps a step
// of h stable.
func (b *breath) steepest(h float64) float64 {
	return min(plateSteepest, b.volume/((b.area+b.leak)*b.root*h))
}

// refill moves the runner alone, its valve shut, by one midpoint step.
func (b *breath) refill(h, ambient float64) float64 {
	toPressure := b.rt / b.volume
	steepest := b.steepest(h)
	p0 := b.mass * toPressure
	dm := midpoint(b.mass, h, func(mass float64) float64 {
		return orifice(b.area+b.leak, ambient, b.outsideRoot, mass*toPressure, b.root, steepest)
	})
	b.mass += dm
	b.entry += dm
	return h * (p0 + b.mass*toPressure) / 2
}

// door is what stays the same for the steps in which a valve is open: the step, the air outside and the butterfly.
type door struct {
	h          float64 // s
	ambient    float64 // Pa absolute
	toPressure float64 // of the runner, from its mass, Pa/kg
	choked     float64 // flow inwards over the nozzle function, kg/s
	steepest   float64 // bound of the nozzle function
}

// door returns that of steps of h s.
func (b *breath) door(h, ambient float64) door {
	return door{h: h, ambient: ambient, toPressure: b.rt / b.volume,
		choked: (b.area + b.leak) * ambient / b.outsideRoot, steepest: b.steepest(h)}
}

// draw moves runner and cylinder by one midpoint step while the valve is open. Flows that go inwards are written out in
// it, for here a practice engine spends half of its time: see NOTES.md.
func (b *breath) draw(d door, from, turn float64) (integral, work float64) {
	const cp = gamma / (gamma - 1) * gasConstant
	c := &b.cylinder
	_, a0 := atCrank(from)
	v1, a1 := atCrank(from + turn/2)
	v2, _ := atCrank(from + turn)
	v0 := c.volume
	v1, v2 = v1*c.scale, v2*c.scale
	a0, a1 = a0*c.valve, a1*c.valve
	var in, out, temperature, blow, blowHeat float64

	pr := b.mass * d.toPressure
	pc := (gamma - 1) * c.energy / v0
	if pr <= d.ambient {
		in = d.choked * nozzle(pr/d.ambient, d.steepest)
	} else {
		in = b.spill(d, pr)
	}
	if pr >= pc {
		out, temperature = a0*pr/b.root*valveNozzle(pc/pr), b.kelvin
	} else {
		out, temperature = blowBack(a0, pr, pc, v0, c.mass)
	}
	if c.rings != 0 {
		blow, blowHeat = c.blowBy(d.ambient, pc, v0, c.mass)
	}
	energy := c.energy + (cp*temperature*out+blowHeat+c.heatFlow(pc, v0, c.mass))*d.h/2 - pc*(v1-v0)
	mass := c.mass + (out+blow)*d.h/2
	prMid := pr + (in-out)*d.h/2*d.toPressure
	pcMid := (gamma - 1) * energy / v1

	if prMid <= d.ambient {
		in = d.choked * nozzle(prMid/d.ambient, d.steepest)
	} else {
		in = b.spill(d, prMid)
	}
	if prMid >= pcMid {
		out, temperature = a1*prMid/b.root*valveNozzle(pcMid/prMid), b.kelvin
	} else {
		out, temperature = blowBack(a1, prMid, pcMid, v1, mass)
	}
	if c.rings != 0 {
		blow, blowHeat = c.blowBy(d.ambient, pcMid, v1, mass)
	}
	in *= d.h
	out *= d.h
	c.energy += cp*temperature*out + (blowHeat+c.heatFlow(pcMid, v1, mass))*d.h - pcMid*(v2-v0)
	c.mass += out + blow*d.h
	c.fresh += out
	c.volume = v2
	b.mass += in - out
	b.entry += in
	b.exit += out
	if from >= intakeTopDegrees && from < bottomDegrees {
		work = (pcMid - d.ambient) * (v2 - v0)
	}
	return d.h * (pr + b.mass*d.toPressure) / 2, work
}

// spill returns the flow in kg/s, negative, of a runner at pa, Pa absolute, that is above ambient.
func (b *breath) spill(d door, pa float64) float64 {
	return orifice(b.area+b.leak, d.ambient, b.outsideRoot, pa, b.root, d.steepest)
}

// valveNozzle returns the nozzle function at the valve.
func valveNozzle(r float64) float64 {
	if r >= valveLinear {
		return valveSteepest * (1 - r)
	}
	return throttled(r)
}

// throttled is the nozzle function at a valve that opens or shuts. Inline it would keep valveNozzle from being so.
//
//go:noinline
func throttled(r float64) float64 { return nozzle(r, valveSteepest) }

// blowBack returns the flow in kg/s, negative, from a cylinder (Pa absolute, m3, kg) back to the runner (Pa absolute)
// through the valve, and the temperature in K of what flows.
func blowBack(area, runner, cylinder, volume, mass float64) (flow, temperature float64) {
	rt := cylinder * volume / mass
	return -area * cylinder / math.Sqrt(rt) * valveNozzle(runner/cylinder), rt / gasConstant
}

// exchange moves gas between two runners through a passage of an effective area in m2
// for a time h: one midpoint step.
func exchange(a, b *breath, area, h float64) {
	if area <= 0 {
		return
	}
	pa, pb := a.rt/a.volume, b.rt/b.volume
	bound := min(plateSteepest, min(a.volume, b.volume)/(2*area*a.root*h))
	dm := midpoint(0, h, func(gone float64) float64 {
		return orifice(area, (a.mass-gone)*pa, a.root, (b.mass+gone)*pb, b.root, bound)
	})
	a.mass -= dm
	b.mass += dm
	a.passed -= dm
	b.passed += dm
}
