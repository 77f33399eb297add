package engine

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// Defaults of Config.
const (
	DefaultRate    = 1000
	DefaultAmbient = pressure.KPa(101.3)
	DefaultUneven  = pressure.KPa(4)
)

// Config describes a practice engine. Of the zero value only Bank must be set.
type Config struct {
	// Bank gives cylinders, channels, firing and linkage. It must pass its own
	// Check, or be bank.Default(1).
	Bank bank.Bank
	// Seed chooses everything that differs from bike to bike and from sample to
	// sample.
	Seed uint64
	// Rate is sampling instants a second, 50 to 5000; 0 is DefaultRate.
	Rate int
	// Ambient is the absolute pressure of the air; 0 is DefaultAmbient.
	Ambient pressure.KPa
	// Uneven is roughly how far the draws stand apart at idle at the start
	// (largest minus smallest); 0 is DefaultUneven. See Level.
	Uneven pressure.KPa
	// Level starts with all butterflies alike; Uneven is then left aside.
	Level bool
	// Alike makes all cylinders and runners exactly alike; else their volumes
	// differ a little by Seed.
	Alike bool
	// Running starts with the engine idling and warm; else it stands still.
	Running bool

	// Smooth makes every combustion alike.
	Smooth bool
	// NoLag leaves out the hoses' and sensors' lags.
	NoLag bool
	// NoSensorErrors leaves out the sensors' offset and gain errors.
	NoSensorErrors bool
	// NoNoise leaves out the sensors' noise. The converter's steps stay.
	NoNoise bool
}

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
)

// Engine is a practice engine with its board. Its methods may be called from
// several goroutines.
type Engine struct {
	mu       sync.Mutex
	config   Config
	n        int
	ambient  float64 // Pa absolute
	step     float64 // s
	steps    int     // per sampling instant
	parts    int     // of a step, for a cylinder whose valve is open
	timeS    float64 // board time where the physics stands
	cylinder [bank.MaxCylinders]breath
	crank    crank
	linkage  *linkage
	channel  [bank.MaxCylinders]channel // by cylinder
	board    *board
	noise    *rand.Rand
	tally    tally
	onCycle  func(Cycle)
}

// New makes a practice engine. Engines of the same Config to which the same
// methods are called at the same byte positions give the same bytes.
func New(c Config) *Engine { return newEngine(c, 1) }

// newEngine is New with all time steps divided by refine.
func newEngine(c Config, refine int) *Engine {
	if c.Rate == 0 {
		c.Rate = DefaultRate
	}
	if c.Ambient == 0 {
		c.Ambient = DefaultAmbient
	}
	if c.Uneven == 0 {
		c.Uneven = DefaultUneven
	}
	if c.Level {
		c.Uneven = 0
	}
	stream := func(s uint64) *rand.Rand { return rand.New(rand.NewPCG(c.Seed, s)) }
	bike, sensors := stream(streamBike), stream(streamSensor)
	e := &Engine{config: c, n: c.Bank.Cylinders, ambient: 1000 * float64(c.Ambient), noise: stream(streamNoise)}
	coarse := int(math.Ceil(1/(float64(c.Rate)*stepS) - 1e-9))
	e.parts = int(math.Ceil(1/(float64(c.Rate)*float64(coarse)*valveStepS) - 1e-9))
	e.steps = coarse * refine
	e.step = 1 / (float64(c.Rate) * float64(e.steps))
	e.linkage = newLinkage(c.Bank, c.Uneven, bike)
	e.crank = crank{n: e.n, random: stream(streamCombustion), scatter: scatter, degrees: cycleDegrees * bike.Float64()}
	if c.Smooth {
		e.crank.scatter = 0
	}
	for i := range e.n {
		e.crank.fires[i] = c.Bank.FiringAngle(i + 1)
		b := &e.cylinder[i]
		b.volume, b.cylinder.scale = runnerM3, 1
		if r, v := bike.NormFloat64(), bike.NormFloat64(); !c.Alike {
			b.volume *= 1 + runnerScatter*min(max(r, -2), 2)
			b.cylinder.scale *= 1 + cylinderScatter*min(max(v, -2), 2)
		}
		b.setPressure(e.ambient)
		b.area = e.linkage.area(i)
		e.channel[i] = newChannel(&e.config, e.step, sensors)
		e.channel[i].settle(float64(c.Ambient))
	}
	e.board = newBoard(slices.Max(c.Bank.Channels)+1, c.Bank.Channels, c.Rate, c.Seed)
	for i := range e.n {
		e.channel[i].sampleAt(float64(e.board.delayUs[c.Bank.Channels[i]])/1e6, e.step)
	}
	e.tally.reset()
	if c.Running {
		e.warmUp()
	}
	return e
}

// warmUp lets the engine idle for settleS before the board's time begins.
func (e *Engine) warmUp() {
	e.crank.ignition = true
	e.crank.radS = idleRPM * radPerSPerRPM
	for i := range e.n {
		e.cylinder[i].trapped = idleChargeKg
	}
	for range int(settleS / e.step) {
		e.advance()
		for i := range e.n {
			e.channel[i].step(e.cylinder[i].pressure() / 1000)
		}
	}
	e.timeS = 0
	e.tally.shift(settleS)
}

// idleChargeKg is the fresh charge taken for the first combustions of an engine
// that starts running. Measured on the model.
const idleChargeKg = 7e-5

// advance moves everything by one step.
func (e *Engine) advance() {
	if e.linkage.follow(e.step) {
		for i := range e.n {
			e.cylinder[i].area = e.linkage.area(i)
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
		integral[i], w = b.advance(e.step, from, turn, e.ambient, e.parts)
		work += w
		if from+turn >= cycleDegrees {
			e.crank.ignite(i, b.trapped)
		}
	}
	e.crank.pumping = 0
	if turn > 0 {
		e.crank.pumping = work / (turn * math.Pi / 180)
	}
	wrapped, before := e.crank.turn(turn)
	e.record(integral[:e.n], old[:e.n], wrapped, before)
	e.timeS += e.step
}

// instant simulates one sampling period and sends its frame.
func (e *Engine) instant() {
	b := e.board
	e.timeS = float64(b.instant) / float64(b.rate)
	for s := range e.steps {
		e.advance()
		for i := range e.n {
			c := &e.channel[i]
			before, after := c.step(e.cylinder[i].pressure() / 1000)
			if s == c.atStep {
				b.frame.Counts[e.config.Bank.Channels[i]] = c.convert(before+c.atPart*(after-before), e.noise)
			}
		}
	}
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

// Turn turns the synchronising screw with that index in Bank.Screws, clockwise
// positive, added to what is not yet done. A hand turns half a turn a second; at
// ScrewTravel either way of the start the screw meets its end. An index that
// there is not does nothing.
func (e *Engine) Turn(screw int, turns float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if screw >= 0 && screw < len(e.linkage.screws) {
		e.linkage.screws[screw].turn(turns)
	}
}

// TurnStop turns the throttle stop; clockwise, positive, opens all butterflies.
// Speed as Turn, limit StopTravel.
func (e *Engine) TurnStop(turns float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.linkage.stop.turn(turns)
}

// Start switches the ignition on and, unless the engine runs, turns the starter
// until it does or five seconds have passed.
func (e *Engine) Start() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.crank.ignition = true
	if !e.crank.running() {
		e.crank.starterS = starterLongestS
	}
}

// Stop switches the ignition off; the engine comes to rest by itself.
func (e *Engine) Stop() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.crank.ignition = false
	e.crank.starterS = 0
}

// Blip opens the throttle for about a second.
func (e *Engine) Blip() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.linkage.blipS = blipS
}
