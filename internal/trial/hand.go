package trial

import (
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
)

// Of a bench.
const (
	chunkFrames  = 20
	bytesAFrame  = 32 // at most, of a bank's board
	settleBefore = 0.5
)

// bench is a practice engine with what both mechanics need.
type bench struct {
	bank    bank.Bank
	engine  *engine.Engine
	hand    *practice.Hand
	habits  *practice.Habits  // the same for both mechanics
	moves   func(now float64) // lets the hand, and what else is under way, come to that time
	started float64
	longest float64 // when the mechanic gives up, s
	now     float64
	course  []pressure.KPa
	noted   float64 // when the course is noted next
	buf     []byte
	feed    func([]byte) error
}

func newBench(b bike) *bench {
	e := engine.New(b.config)
	habits := b.habits
	if habits == nil {
		habits = &practice.Clumsy
	}
	hand := practice.NewHand(e, habits, b.seed)
	return &bench{habits: habits, bank: b.config.Bank, longest: b.longest(), engine: e, hand: hand, moves: hand.Move,
		buf: make([]byte, chunkFrames*bytesAFrame)}
}

// run lets the engine's time pass to end.
func (b *bench) run(end float64) {
	for b.now < end {
		b.step()
	}
}

// step lets as little of the engine's time pass as is read at once.
func (b *bench) step() {
	n, err := b.engine.Read(b.buf)
	if err == nil {
		err = b.feed(b.buf[:n])
	}
	if err != nil {
		panic("trial: internal error: " + err.Error())
	}
	b.now = b.engine.Truth().TimeS
	b.moves(b.now)
}

// start starts the engine and lets it settle.
func (b *bench) start() {
	b.engine.Start()
	b.started = b.now
	b.run(b.now + warmSeconds)
}

// look lets one glance pass, and notes the true spread.
func (b *bench) look() {
	b.run(b.now + b.habits.Glance)
	if b.now >= b.noted {
		b.noted = max(b.noted, b.now) + 1
		b.course = append(b.course, b.engine.Truth().Spread)
	}
}

// outcome judges the bank: the true spread averaged over a few seconds.
func (b *bench) outcome(done bool, w *watch) Outcome {
	turns, moves := b.hand.Counts()
	o := Outcome{Done: done, Turns: turns, Moves: moves, Idle: b.engine.Truth().IdlingS, Course: b.course}
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
	if w != nil {
		o.Told = w.Told
	}
	return o
}
