package session_test

import (
	"math"
	"math/rand/v2"
)

// Of the strange engine: the air outside, kPa; the gas constant times its temperature, kJ/kg; the ratio of its heats.
// Handbook values of dry air, from memory.
const (
	strangeAmbient = 101.0
	strangeRT      = 287.0 * 300 / 1000
	strangeGamma   = 1.4
)

// strangeStep is the step of time of the engine, s.
const strangeStep = 1e-4

// strangeEngine is an engine whose physics share nothing with package engine: mass flows through orifices (Saint-Venant
// and Wantzel) into a runner a cylinder, from there through a valve into the cylinder; a crank that turns by what the
// charges burn to; behind each port a hose that rings and a sensor that lags. A screw works on the area of butterflies.
type strangeEngine struct {
	rng      *rand.Rand
	cyls     []*strangeCylinder
	screws   []*strangeScrew
	theta    float64 // crank, degrees of 720
	omega    float64 // rad/s
	starter  float64 // s that it still turns
	stop     float64 // throttle stop, ln of the area
	grip     float64 // opening by the throttle, in idle areas
	area     float64 // of a butterfly at idle, m²
	inertia  float64 // kg m²
	disp     float64 // of a cylinder, m³
	perKg    float64 // work of a charge, J/kg
	friction [2]float64
	scatter  float64 // of the charges, as a share
	sways    float64 // of the work, as a share, over seconds
	sway     float64
	hunt     float64 // share by which the mixture hunts
	huntHz   float64
	joined   float64 // area of the passages between runners, in idle areas
	slope    float64 // kPa of draw by ln of the area
	t        float64
}

type strangeCylinder struct {
	mass, charge float64 // kg in the runner, in the cylinder
	offset       float64 // of its butterfly, ln of the area
	intake       float64 // crank degrees at which its intake begins
	drawing      bool
	work         float64 // of this cycle, J
	hose, hoseV  float64 // kPa behind the hose, and how fast it moves
	hz, damping  float64
	lag          float64 // of the sensor, s
	sensor       float64 // kPa
	sum, over    float64
	draws        []float64 // true draws of the last cycles, kPa
}

type strangeScrew struct {
	name        string
	moves       []int
	gain        float64 // ln of the area a turn, clockwise
	slack       float64 // turns
	nut         float64 // turns by which tightening its nut moves it, one standard deviation
	head, wedge float64 // where its head stands, and what the butterfly follows, turns
	tight       bool
}

func (s *strangeScrew) turn(turns float64) {
	s.head += turns
	s.wedge = min(max(s.wedge, s.head-s.slack/2), s.head+s.slack/2)
}

// flow is the mass that flows through an orifice from p1 to p2, kPa, in kg/s.
func flow(area, p1, p2 float64) float64 {
	sign := 1.0
	if p2 > p1 {
		p1, p2, sign = p2, p1, -1
	}
	if p1 <= 0 {
		return 0
	}
	const soft = 0.995 // beyond it straight, as the root is too steep for a step
	r := max(p2/p1, 0.528)
	psi := flowTable[int(min(r, soft)*1024)]
	if r > soft {
		psi *= (1 - r) / (1 - soft)
	}
	return sign * area * p1 * 1000 / math.Sqrt(strangeRT*1000) * psi
}

var flowTable = func() (t [1025]float64) {
	const g = strangeGamma
	for i := range t {
		r := max(float64(i)/1024, 0.528)
		t[i] = math.Sqrt(max(0, 2*g/(g-1)*(math.Pow(r, 2/g)-math.Pow(r, (g+1)/g))))
	}
	return t
}()

// newStrangeEngine returns a warm engine of so many cylinders, set for some 1050 rpm.
func newStrangeEngine(n int, seed uint64) *strangeEngine {
	e := &strangeEngine{rng: rand.New(rand.NewPCG(seed, 77)), scatter: 0.06, sways: 0.012, starter: 2}
	e.disp = []float64{0, 0, 400e-6, 300e-6, 180e-6}[n]
	size := e.disp / 180e-6
	e.area, e.inertia = 4.1e-6*size, 0.03+0.02*e.rng.Float64()
	if n == 2 {
		e.inertia *= 2.2
	}
	for _, fires := range map[int][]float64{2: {0, 360}, 3: {0, 240, 480}, 4: {0, 180, 540, 360}}[n] {
		c := &strangeCylinder{intake: fires + 360, hose: strangeAmbient, sensor: strangeAmbient}
		c.mass = strangeAmbient * 1000 * e.runner() / (strangeRT * 1000)
		e.cyls = append(e.cyls, c)
	}
	draw, charge := e.steady(0)
	more, _ := e.steady(0.1)
	e.slope = (more - draw) / 0.1
	e.friction = [2]float64{1.4 * float64(n) * size, 0.0085 * float64(n) * size}
	const idle = 1050.0 / 60 * 2 * math.Pi
	e.perKg = (e.friction[0] + e.friction[1]*idle) * 4 * math.Pi / float64(n) / charge
	return e
}

// runner is the volume of a runner; volume that of a cylinder so many degrees after the top of its intake, m³.
func (e *strangeEngine) runner() float64 { return 0.35 * e.disp }

func (e *strangeEngine) volume(ph float64) float64 {
	return e.disp/9 + e.disp*(1-math.Cos(ph*math.Pi/180))/2
}

// residual is the mass that stays in a cylinder, kg.
func (e *strangeEngine) residual() float64 {
	return 0.35 * strangeAmbient * 1000 * e.volume(0) / (strangeRT * 1000)
}

// valve is how far it is open, so many degrees after the top of the intake.
func valve(ph float64) float64 {
	if ph < -15 || ph > 225 {
		return 0
	}
	s := math.Sin((ph + 15) / 240 * math.Pi)
	return s * s
}

// intoCylinder is the flow from a runner at p into its cylinder, kg/s.
func (e *strangeEngine) intoCylinder(p, charge, ph float64) float64 {
	if ph > 600 {
		ph -= 720
	}
	l := valve(ph)
	if l == 0 {
		return 0
	}
	return flow(2.6e-4*l*e.disp/180e-6, p, charge*strangeRT/e.volume(max(ph, 0)))
}

// steady returns the mean draw, kPa, and the charge, kg, of one cylinder at 1050 rpm with so much more area, as its ln.
func (e *strangeEngine) steady(ln float64) (draw, charge float64) {
	const turn = 1050.0 / 60 * 360 * strangeStep
	area, mass := e.area*math.Exp(ln), 70*1000*e.runner()/(strangeRT*1000)
	in, ph, sum, steps := 0.0, 0.0, 0.0, 0.0
	for cycles := 0; ; {
		if was := ph; was < 705 && was+turn >= 705 {
			in = e.residual()
		}
		if ph += turn; ph >= 720 {
			ph -= 720
			if cycles++; cycles == 30 {
				return strangeAmbient - sum/steps, charge
			}
			sum, steps, charge = 0, 0, 0
		}
		p := mass * strangeRT / e.runner()
		air, out := flow(area, strangeAmbient, p), e.intoCylinder(p, in, ph)
		mass, in, charge = mass+(air-out)*strangeStep, in+out*strangeStep, charge+air*strangeStep
		sum, steps = sum+p, steps+1
	}
}

// step moves the engine by one step of time.
func (e *strangeEngine) step() {
	const dt = strangeStep
	e.t += dt
	e.theta = math.Mod(e.theta+e.omega*180/math.Pi*dt, 720)
	torque := 0.0
	for i, c := range e.cyls {
		torque += e.breathe(i, c)
	}
	for i, a := range e.cyls {
		for _, b := range e.cyls[i+1:] {
			if e.joined == 0 {
				break
			}
			f := flow(e.joined*e.area, a.mass*strangeRT/e.runner(), b.mass*strangeRT/e.runner()) * dt
			a.mass, b.mass = a.mass-f, b.mass+f
		}
	}
	e.sway += -e.sway*dt/3 + e.sways*math.Sqrt(2*dt/3)*e.rng.NormFloat64()
	if e.starter -= dt; e.starter > 0 {
		torque += max(0, 34-e.omega) * 3
		if e.omega > 55 {
			e.starter = 0
		}
	}
	drag := 0.0
	if e.omega > 0.5 {
		drag = e.friction[0] + e.friction[1]*e.omega
	}
	e.omega = max(e.omega+(torque-drag)/e.inertia*dt, 0)
	for _, c := range e.cyls {
		w := 2 * math.Pi * c.hz
		c.hoseV += (w*w*(c.mass*strangeRT/e.runner()-c.hose) - 2*c.damping*w*c.hoseV) * dt
		c.hose += c.hoseV * dt
		c.sensor += (c.hose - c.sensor) * dt / c.lag
	}
}

// breathe moves the gas of cylinder i by one step, and returns its torque, Nm.
func (e *strangeEngine) breathe(i int, c *strangeCylinder) (torque float64) {
	const dt = strangeStep
	p := c.mass * strangeRT / e.runner()
	air := flow(e.areaOf(i), strangeAmbient, p)
	ph := math.Mod(e.theta-c.intake+1440, 720)
	open := (ph < 225 || ph > 705) && e.omega > 1
	out := 0.0
	switch {
	case open && !c.drawing:
		c.drawing, c.charge = true, e.residual()
		if c.over > 0 {
			c.draws = append(c.draws[max(0, len(c.draws)-59):], strangeAmbient-c.sum/c.over)
		}
		c.sum, c.over = 0, 0
		out = e.intoCylinder(p, c.charge, ph)
	case open:
		out = e.intoCylinder(p, c.charge, ph)
	case c.drawing:
		c.drawing = false
		burns := (1 + e.scatter*e.rng.NormFloat64()) * (1 + e.hunt*math.Sin(2*math.Pi*e.huntHz*e.t)) * (1 + e.sway)
		c.work = max(0, c.charge-e.residual()) * e.perKg * max(burns, 0)
	}
	c.mass, c.charge = c.mass+(air-out)*dt, c.charge+out*dt
	c.sum, c.over = c.sum+p*dt, c.over+dt
	if ph > 365 && ph < 525 { // the power stroke
		torque = c.work / 2 * math.Sin(math.Pi*(ph-365)/160) * 180 / 160
	}
	return torque
}

// areaOf is how far butterfly i is open, m².
func (e *strangeEngine) areaOf(i int) float64 {
	ln := e.cyls[i].offset + e.stop
	for _, s := range e.screws {
		for _, m := range s.moves {
			if m == i {
				ln += s.wedge * s.gain
			}
		}
	}
	return e.area*math.Exp(ln) + e.grip*e.area
}

// count is what a 10-bit board reads of the sensor of cylinder i: 0.009 of the supply a kPa, less 0.095, as the data
// sheet of the MPX4115A has it.
func (e *strangeEngine) count(i int) uint16 {
	const noise = 0.08 // kPa
	p := e.cyls[i].sensor + noise*e.rng.NormFloat64()
	return uint16(min(max(math.Floor((0.009*p-0.095)*1024), 4), 1020))
}

// spread is that of the true draws over the last so many cycles, kPa.
func (e *strangeEngine) spread(cycles int) float64 {
	least, most := math.Inf(1), math.Inf(-1)
	for _, c := range e.cyls {
		last := c.draws[max(0, len(c.draws)-cycles):]
		sum := 0.0
		for _, d := range last {
			sum += d
		}
		mean := sum / float64(max(len(last), 1))
		least, most = min(least, mean), max(most, mean)
	}
	return most - least
}
