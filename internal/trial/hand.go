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
	turnError    = 0.25 // of an amount, either way
	wrongWay     = 0.03 // share of first turns of a screw the wrong way
	handSpeed    = 0.5  // turns a second
	handStep     = 0.1  // s between two small movements of the hand
	chunkFrames  = 20
	bytesAFrame  = 32 // at most, of a bank's board
	settleBefore = 0.5
)

// hand turns screws of a practice engine clumsily.
type hand struct {
	engine *engine.Engine
	rng    *rand.Rand
	turned map[int]bool // screws that were turned before
	loose  map[int]bool // screws whose lock nuts are open
	screw  int
	left   float64 // turns still to make, clockwise positive
	due    float64 // when the next movement is due
	turns  int
}

func newHand(e *engine.Engine, seed uint64) *hand {
	return &hand{engine: e, rng: rand.New(rand.NewPCG(seed, 77)), turned: map[int]bool{}, loose: map[int]bool{}}
}

// busy reports whether the hand is at a screw.
func (h *hand) busy() bool { return h.left != 0 }

// begin takes a screw in hand, to turn it by an amount from time now on, after a
// reaction.
func (h *hand) begin(now float64, screw int, amount float64) {
	amount *= 1 + turnError*(2*h.rng.Float64()-1)
	if !h.turned[screw] && h.rng.Float64() < wrongWay {
		amount = -amount
	}
	h.turned[screw], h.loose[screw] = true, true
	h.screw, h.left = screw, amount
	h.due = now + leastReact + (mostReact-leastReact)*h.rng.Float64()
	h.turns++
}

// tighten closes all lock nuts that are open, each of which shifts its setting a
// little, and reports whether there were any.
func (h *hand) tighten() bool {
	any := len(h.loose) > 0
	for screw := range len(h.engine.Truth().ScrewTurns) { // in order: same seed, same outcome
		if h.loose[screw] {
			h.engine.LockNut(screw)
		}
	}
	h.loose = map[int]bool{}
	return any
}

// letGo ends a turn that has begun.
func (h *hand) letGo() { h.left = 0 }

// move makes the movements that are due.
func (h *hand) move(now float64) {
	for h.left != 0 && now >= h.due {
		step := min(handSpeed*handStep, math.Abs(h.left))
		step = math.Copysign(step, h.left)
		h.engine.Turn(h.screw, step)
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
	now     float64
	course  []pressure.KPa
	buf     []byte
	feed    func([]byte) error
}

func newBench(b bike) *bench {
	e := engine.New(b.config)
	return &bench{bank: b.config.Bank, engine: e, hand: newHand(e, b.seed), buf: make([]byte, chunkFrames*bytesAFrame)}
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
	o := Outcome{Done: done, Turns: b.hand.turns, Idle: b.now - b.started, Course: b.course}
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
