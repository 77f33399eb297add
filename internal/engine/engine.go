package engine

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"evendraw/internal/bank"
	"evendraw/internal/frame"
)

// Cylinders that are not exactly alike: relative standard deviation of the
// runner's and of the cylinder's volume. Chosen.
const (
	runnerScatter   = 0.02
	cylinderScatter = 0.005
)

// settleS is how long a running engine has run before its first frame. Chosen:
// several times the time in which the idle speed settles.
const settleS = 4.0

// Streams of random numbers, one for each use, so that leaving one use out does
// not change the others.
const (
	streamBike = iota + 1
	streamCombustion
	streamSensor
	streamNoise
	streamHose
	streamEvents
	streamPilots
	streamHand
	streamSpark
	streamLine
	streamScenario
)

// Engine is a practice engine with its board. Its methods may be called from
// several goroutines.
type Engine struct {
	mu              sync.Mutex
	config          Config
	n               int
	ambient         float64 // Pa absolute
	thinFactor      float64 // factor on the mixture in this air
	passage         float64 // m2
	pipe            breath  // joins the runners through passages; nothing else of it is used
	step            float64 // s
	stepsPerInstant int     // per sampling instant
	valveParts      int     // of a step, for a cylinder whose valve is open
	timeS           float64 // where the physics stands
	cylinder        [bank.MaxCylinders]breath
	crank           crank
	fire            fire
	warmth          warmth
	linkage         *linkage
	pilots          pilots
	channel         [bank.MaxCylinders]channel  // by cylinder
	hoseOn          [bank.MaxCylinders]int      // index of the cylinder whose runner the hose is on
	heldHose        [bank.MaxCylinders]hoseHold // in its place
	wetS            [bank.MaxCylinders]float64  // for how long each leak is wet still, s
	probe           *probe                      // nil is none
	board           *board
	noise           *rand.Rand
	sparks          *rand.Rand
	hand            *rand.Rand
	tally           tally
	score           score
	onCycle         func(Cycle)
}

// New makes a practice engine. Engines of the same Config to which the same
// methods are called at the same byte positions give the same bytes.
func New(c Config) *Engine { return newEngine(c, 1) }

// newEngine is New with all time steps divided by refine.
func newEngine(c Config, refine int) *Engine {
	c.setDefaults()
	stream := func(s uint64) *rand.Rand { return rand.New(rand.NewPCG(c.Seed, s)) }
	bike := stream(streamBike)
	e := &Engine{config: c, n: c.Bank.Cylinders, ambient: 1000 * float64(c.Ambient), passage: c.PassageMM2 / 1e6,
		noise: stream(streamNoise), sparks: stream(streamSpark), hand: stream(streamHand)}
	coarse := int(math.Ceil(1/(float64(c.Rate)*stepS) - 1e-9))
	e.valveParts = int(math.Ceil(1/(float64(c.Rate)*float64(coarse)*valveStepS) - 1e-9))
	e.stepsPerInstant = coarse * refine
	e.step = 1 / (float64(c.Rate) * float64(e.stepsPerInstant))
	e.warmth = newWarmth(c.AirC, c.Cold)
	e.thinFactor = thinAirFactor(e.ambient, e.warmth.airK)
	e.linkage = newLinkage(&c, bike)
	e.pilots = newPilots(&c, stream(streamPilots))
	e.crank = crank{n: e.n, degrees: cycleDegrees * bike.Float64(), drag: 1}
	e.fire = fire{random: stream(streamCombustion), events: stream(streamEvents), roughness: c.Roughness,
		lumpy: c.Lumpy}
	if c.Lumpy {
		e.fire.roughness *= lumpyRoughness
	}
	if c.Smooth {
		e.fire.roughness, e.fire.lumpy = 0, false
	}
	e.pipe = makeBreath()
	e.pipe.volume = pipeM3
	e.pipe.setAir(e.warmth.air())
	e.pipe.setPressure(e.ambient)
	for i := range e.n {
		e.crank.fires[i] = c.Bank.FiringAngle(i + 1)
		e.newCylinder(i, bike)
	}
	e.applyWarmth()
	e.fitSensors(chances{stream(streamSensor), stream(streamHose)}, stream(streamLine))
	e.tally.reset()
	if c.Running {
		e.warmUp()
	}
	return e
}

// newCylinder makes the gas path of cylinder i + 1.
func (e *Engine) newCylinder(i int, bike *rand.Rand) {
	e.cylinder[i] = makeBreath()
	b := &e.cylinder[i]
	if r, v := bike.NormFloat64(), bike.NormFloat64(); !e.config.Alike {
		b.volume *= 1 + runnerScatter*min(max(r, -2), 2)
		b.cylinder.scale *= 1 + cylinderScatter*min(max(v, -2), 2)
	}
	d := at(e.config.Defects, i)
	if d.Valve > 0 {
		b.cylinder.valve = d.Valve
	}
	b.leak = d.LeakMM2 / 1e6
	b.cylinder.rings = d.RingsMM2 / 1e6
	b.cylinder.wall = wallCoefficient
	if !e.config.Running { // what stands open is as warm as its walls
		b.cylinder.leftK = e.warmth.wallK()
	}
	b.area = e.butterflyArea(i)
	b.setAir(e.warmth.air())
	b.setPressure(e.ambient)
}

// fitSensors connects sensors, hoses and board to the engine.
func (e *Engine) fitSensors(random chances, line *rand.Rand) {
	c := &e.config
	channels, lambda := slices.Max(c.Bank.Channels)+1, -1
	if c.Lambda && channels < frame.MaxChannels {
		lambda = channels
		channels++
		e.probe = newProbe(c, lambda)
	}
	e.board = newBoard(c, channels, lambda, line)
	for i := range e.n {
		e.channel[i] = newChannel(c, i, e.step, random)
		e.channel[i].settle(float64(c.Ambient))
		e.channel[i].sampleAt(float64(e.board.delayUs[c.Bank.Channels[i]])/1e6, e.step)
		e.hoseOn[i] = e.configuredHose(i)
	}
}

// configuredHose returns the index of the cylinder whose runner Config has the hose of
// cylinder i + 1 on.
func (e *Engine) configuredHose(i int) int {
	if on := at(e.config.Hoses, i).On; on >= 1 && on <= e.n {
		return on - 1
	}
	return i
}

// warmUp lets the engine idle for settleS before the board's time begins.
func (e *Engine) warmUp() {
	e.crank.ignition = true
	e.crank.radS = UsualIdleRPM * radPerSPerRPM
	for i := range e.n {
		e.cylinder[i].trapped = airCharge(idleEfficiency, 1000*float64(DefaultAmbient), sweptM3, outsideK)
	}
	for range int(settleS / e.step) {
		e.advance()
		for i := range e.n {
			e.channel[i].step(e.hosePressure(i))
		}
		if e.probe != nil {
			e.probe.feel(e.step, e.n, e.crank.radS > 0)
		}
	}
	e.timeS = 0
	for i := range e.n {
		e.channel[i].sparkAtS -= settleS
	}
	e.tally.shift(settleS)
	e.score = score{}
}

// idleEfficiency is the volumetric efficiency, over outside air, of the charges taken
// for the first combustions of an engine that starts running. Measured on the model.
const idleEfficiency = 0.32

// hosePressure returns the pressure, kPa absolute, at the far end of the hose of cylinder
// i + 1's sensor.
func (e *Engine) hosePressure(i int) float64 {
	if e.channel[i].fault == SensorHoseOff {
		return e.ambient / 1000
	}
	if s := &e.heldHose[i]; s.on {
		return s.kPa
	}
	return e.cylinder[e.hoseOn[i]].pressure() / 1000
}

// applyWarmth sets all that depends on the engine's temperature.
func (e *Engine) applyWarmth() {
	e.crank.drag = e.warmth.friction()
	e.pipe.setAir(e.warmth.air())
	for i := range e.n {
		e.cylinder[i].setAir(e.warmth.air())
		e.cylinder[i].cylinder.wallK = e.warmth.wallK()
	}
}

// advance moves everything by one step.
func (e *Engine) advance() {
	if e.linkage.follow(e.step) {
		for i := range e.n {
			e.cylinder[i].area = e.butterflyArea(i)
		}
	}
	turn := e.crank.advance(e.step)
	work := 0.0
	var old, integral [bank.MaxCylinders]float64
	for i := range e.n {
		from := e.crank.angle(i)
		b := &e.cylinder[i]
		old[i] = b.pressure()
		var w float64
		integral[i], w = b.advance(e.step, from, turn, e.ambient, e.valveParts)
		work += w
		if from+turn >= cycleDegrees {
			e.ignite(i, (cycleDegrees-from)/turn)
		}
	}
	for i := 0; i < e.n && e.passage > 0; i++ {
		exchange(&e.cylinder[i], &e.pipe, e.passage, e.step)
	}
	e.crank.pumping = 0
	if turn > 0 {
		e.crank.pumping = work / (turn * math.Pi / 180)
	}
	wrapped, before := e.crank.turn(turn)
	e.record(integral[:e.n], old[:e.n], wrapped, before)
	e.timeS += e.step
}

// mixture returns phi of what cylinder i + 1 draws now.
func (e *Engine) mixture(i int) float64 {
	b := &e.cylinder[i]
	fuel := 1 - min(max(at(e.config.Defects, i).JetBlocked, 0), 1)
	return e.pilots.phi(i) * fuel * e.thinFactor * b.area / (b.area + b.leak)
}

// ignite gives cylinder i + 1 its spark, after the given part of this step.
func (e *Engine) ignite(i int, part float64) {
	b := &e.cylinder[i]
	d := at(e.config.Defects, i)
	burns := burning{phi: e.mixture(i), residual: b.residual, misfire: d.Misfire, rings: d.RingsMM2}
	r := e.fire.burn(b.trapped, &burns, e.crank.canIgnite())
	e.crank.work[i] = r.work
	if r.work == 0 {
		e.tally.cycle.Unburnt[i] = true
	}
	b.cylinder.leftK = r.leftK
	if r.work == 0 && d.UnburntK > 0 {
		b.cylinder.leftK = d.UnburntK
	}
	b.cylinder.leftRise = residualRisePa*r.rise + 1000*float64(d.Retained)
	if e.probe != nil {
		e.probe.exhaust[i] = r.lambda
	}
	if !e.config.Sparks || !e.crank.ignition {
		return
	}
	for c := range e.n {
		e.channel[c].strike(e.timeS+part*e.step, e.sparks)
	}
	if e.probe != nil {
		e.probe.channel.strike(e.timeS+part*e.step, e.sparks)
	}
}

// instant simulates one sampling period and sends its frame.
func (e *Engine) instant() {
	b := e.board
	e.timeS = float64(b.instant) / float64(b.rate)
	period := 1 / float64(b.rate)
	for s := range e.stepsPerInstant {
		e.advance()
		for i := range e.n {
			c := &e.channel[i]
			before, after := c.step(e.hosePressure(i))
			if s == c.atStep {
				now := e.timeS + (c.atPart-1)*e.step
				b.frame.Counts[e.config.Bank.Channels[i]] = c.read(before+c.atPart*(after-before), e.warmth.sensor, now,
					e.noise)
			}
		}
	}
	if e.probe != nil {
		e.probe.feel(period, e.n, e.crank.radS > 0)
		b.frame.Counts[e.probe.number] = e.probe.read(e.timeS)
	}
	e.pilots.follow(period)
	if e.linkage.grip.follow(period, e.crank.rpm()) {
		e.linkage.shifted = true
	}
	e.fire.drift(period)
	e.dry(period)
	e.warmth.follow(period, e.crank.running())
	e.applyWarmth()
	e.score.count(period, e.crank.running())
	b.send()
}

// Read gives the board's bytes: p is filled with as many whole frames as it has
// room for, simulated as needed and as fast as the machine goes, and with at
// least one byte. It never fails and never ends. To stay close to a clock, read
// little at a time: what is turned acts on frames not yet simulated.
func (e *Engine) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	e.mu.Lock()
	n := e.board.take(p)
	for n == 0 || len(p)-n >= e.board.frameLen() {
		e.instant()
		n += e.board.take(p[n:])
	}
	report := e.onCycle
	cycles := e.tally.report
	if report == nil || len(cycles) == 0 {
		e.mu.Unlock()
		return n, nil
	}
	e.tally.report = nil
	e.mu.Unlock()
	for _, c := range cycles {
		report(c)
	}
	return n, nil
}
