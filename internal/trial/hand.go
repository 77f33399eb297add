package trial

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// Habits of the mechanic, the same for both.
const (
	glance       = 1.0  // s between looks up
	leastReact   = 1.0  // s from seeing to turning
	mostReact    = 2.0  // s
	leastHalt    = 0.2  // s from seeing "stop" to a hand at rest
	mostHalt     = 0.4  // s
	turnError    = 0.25 // of an amount, and of a slow hand's pace, either way
	wrongWay     = 0.03 // share of first turns of a screw the wrong way
	handSpeed    = 0.5  // turns a second
	slowSpeed    = 1.0 / 8
	handStep     = 0.05 // s between two small movements of the hand
	nutSeconds   = 2.0  // to tighten a lock nut
	chunkFrames  = 20
	bytesAFrame  = 32 // at most, of a bank's board
	settleBefore = 0.5
)

// noScrew stands for no screw in hand.
const noScrew = -1

// hand turns screws of a practice engine clumsily.
type hand struct {
	engine  *engine.Engine
	rng     *rand.Rand
	turned  map[int]bool // screws that were turned before
	loose   map[int]bool // screws whose lock nuts are open
	screw   int          // in hand, or noScrew
	turning int          // that left is of
	left    float64      // turns still to make, clockwise positive
	speed   float64      // turns a second
	due     float64      // when the next movement is due
	halt    float64      // when the hand comes to rest; 0 is when left is made
	// turns counts how often a screw was taken in hand, moves how often the hand
	// began to move.
	turns, moves int
}

func newHand(e *engine.Engine, seed uint64) *hand {
	return &hand{engine: e, rng: rand.New(rand.NewPCG(seed, 77)), turned: map[int]bool{}, loose: map[int]bool{},
		screw: noScrew}
}

// busy reports whether the hand moves, or is about to.
func (h *hand) busy() bool { return h.left != 0 }

// off returns a figure that the hand gets wrong by chance.
func (h *hand) off(v float64) float64 { return v * (1 + turnError*(2*h.rng.Float64()-1)) }

func (h *hand) between(least, most float64) float64 { return least + (most-least)*h.rng.Float64() }

// begin turns a screw by an amount, clockwise positive, after a reaction.
func (h *hand) begin(now float64, screw int, amount float64) {
	h.start(now, screw, h.off(amount), handSpeed)
}

// beginSlow turns a screw slowly until the hand is stopped, after a reaction.
func (h *hand) beginSlow(now float64, screw int, way float64) {
	h.start(now, screw, math.Copysign(math.Inf(1), way), h.off(slowSpeed))
}

func (h *hand) start(now float64, screw int, amount, speed float64) {
	if screw != h.screw {
		h.screw = screw
		h.turns++
	}
	if !h.turned[screw] && h.rng.Float64() < wrongWay {
		amount = -amount
	}
	h.turned[screw], h.loose[screw] = true, true
	h.turning, h.left, h.speed, h.halt = screw, amount, speed, 0
	h.due = now + h.between(leastReact, mostReact)
	h.moves++
}

// pace has a hand that turns until it is stopped turn slower or faster by that factor.
func (h *hand) pace(factor float64) {
	if math.IsInf(h.left, 0) {
		h.speed = min(max(h.speed*factor, slowSpeed/2), handSpeed)
	}
}

// rest has the hand come to rest, the screw still in it.
func (h *hand) rest(now float64) {
	if h.busy() && h.halt == 0 {
		h.halt = now + h.between(leastHalt, mostHalt)
	}
}

// letGo has the hand come to rest and leave the screw.
func (h *hand) letGo(now float64) {
	h.rest(now)
	h.screw = noScrew
}

// move makes the movements that are due.
func (h *hand) move(now float64) {
	for h.left != 0 && now >= h.due {
		if h.halt != 0 && h.due >= h.halt {
			h.left = 0
			break
		}
		step := math.Copysign(min(h.speed*handStep, math.Abs(h.left)), h.left)
		h.engine.Turn(h.turning, step)
		if h.left -= step; math.Abs(h.left) < 1e-9 {
			h.left = 0
		}
		h.due += handStep
	}
}

// bench is a practice engine with what both mechanics need.
type bench struct {
	bank    bank.Bank
	engine  *engine.Engine
	hand    *hand
	started float64
	longest float64 // when the mechanic gives up, s
	now     float64
	course  []pressure.KPa
	buf     []byte
	feed    func([]byte) error
}

func newBench(b bike) *bench {
	e := engine.New(b.config)
	return &bench{bank: b.config.Bank, longest: b.longest(), engine: e, hand: newHand(e, b.seed),
		buf: make([]byte, chunkFrames*bytesAFrame)}
}

// run lets the engine's time pass to end.
func (b *bench) run(end float64) {
	for b.now < end {
		n, err := b.engine.Read(b.buf)
		if err == nil {
			err = b.feed(b.buf[:n])
		}
		if err != nil {
			panic("trial: internal error: " + err.Error())
		}
		b.now = b.engine.Truth().TimeS
		b.hand.move(b.now)
	}
}

// tighten closes all lock nuts that are open, one after the other, each of which
// shifts its setting a little, and reports whether there were any.
func (b *bench) tighten() bool {
	any := false
	for screw := range b.bank.Screws { // in order: same seed, same outcome
		if !b.hand.loose[screw] {
			continue
		}
		any = true
		b.pass(nutSeconds)
		b.engine.LockNut(screw)
		delete(b.hand.loose, screw)
	}
	return any
}

// pass lets time pass that the mechanic spends on something else than looking.
func (b *bench) pass(seconds float64) {
	for end := b.now + seconds; b.now < end; {
		b.run(min(b.now+glance, end))
		b.course = append(b.course, b.engine.Truth().Spread)
	}
}

// start starts the engine and lets it settle.
func (b *bench) start() {
	b.engine.Start()
	b.started = b.now
	b.run(b.now + warmSeconds)
}

// look lets one glance pass, and notes the true spread.
func (b *bench) look() {
	b.run(b.now + glance)
	b.course = append(b.course, b.engine.Truth().Spread)
}

// outcome judges the bank: the true spread averaged over a few seconds.
func (b *bench) outcome(done bool) Outcome {
	o := Outcome{Done: done, Turns: b.hand.turns, Moves: b.hand.moves, Idle: b.engine.Truth().IdlingS, Course: b.course}
	var mean []pressure.KPa
	n := 0
	b.engine.OnCycle(func(c engine.Cycle) {
		n++
		if mean == nil {
			mean = make([]pressure.KPa, len(c.Draw))
		}
		for i, d := range c.Draw {
			mean[i] += d
		}
	})
	b.run(b.now + judgeSeconds)
	o.Spread = pressure.KPa(math.Inf(1))
	if n > 0 {
		low, high := pressure.KPa(math.Inf(1)), pressure.KPa(math.Inf(-1))
		for _, m := range mean[:len(b.engine.Truth().Cylinders)] {
			low, high = min(low, m/pressure.KPa(n)), max(high, m/pressure.KPa(n))
		}
		o.Spread = high - low
	}
	return o
}
