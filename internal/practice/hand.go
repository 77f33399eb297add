package practice

import (
	"io"
	"math"
	"math/rand/v2"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
)

// Habits are those of a virtual mechanic; times in seconds of the engine's time, angles in turns.
type Habits struct {
	Glance                   float64 // between looks at the advice
	LeastReact, MostReact    float64 // from seeing to turning
	LeastReach, MostReach    float64 // from one screw to another, before that
	LeastHalt, MostHalt      float64 // from seeing "stop" to a hand that stops turning
	RunOn                    float64 // how far it still turns then, at most
	TurnError                float64 // share of an amount, and of a pace, that it is off by, either way
	AngleError               float64 // how far off an amount ends beside that, either way
	AmountTurnsS, SlowTurnsS float64 // paces, turns a second: of an amount, and until told to stop
	Part                     float64 // the most of an amount that is turned at once, turns; 0 is all of it
	LeastPause, MostPause    float64 // from one part of it to the next, beside the reaction
	WrongWay                 float64 // share of first turns of a screw that go the wrong way
	SlipsOn                  bool    // and of all others
	SlotError                float64 // how far off a counted setting a pilot screw ends, either way
	Patience                 float64 // until a check that is still asked for is done again
	NutS                     float64 // to tighten a lock nut, the hand at its screw
	TraceS                   float64 // to trace the hoses, the engine off
	WarmS                    float64 // after that, until the engine has settled
	FindS                    float64 // until a pilot screw's slot is found
	Presses                  bool    // says by itself that a turn of a pilot screw is made, else only when asked
	Forgets, TooLittle       float64 // share of turns of a pilot screw that are not made, and that are half made
	CoolS                    float64 // the engine is let stand before the next look
}

// Calm turns as told: who turns the screws of the practice engine for a user that looks on.
var Calm = Habits{Glance: 0.5, AmountTurnsS: handSpeed, SlowTurnsS: slowSpeed, Patience: 12, NutS: 1.5, TraceS: 8}

// calmPilots is Calm at pilot screws, whose slots are looked for first.
var calmPilots = Habits{LeastReact: 0.5, MostReact: 0.5, FindS: 2, Presses: true}

// AtPilots is who the trim of pilot screws is tried on: a person who sees a word half a second late, takes
// two seconds to find a slot, turns half a turn a second, forgets one turn of twenty, and confirms. Chosen.
var AtPilots = Habits{Glance: 0.5, LeastReact: 0.25, MostReact: 0.75, FindS: 2, Presses: true, Forgets: 0.05,
	TurnError: 0.25, SlotError: 1.0 / 32}

// Clumsy is who glances up once a second and makes amounts fast. The slot of a pilot screw is
// seen to be off by a twelfth of a turn, not by a thirty-second. All chosen.
var Clumsy = Habits{Glance: 1, LeastReact: 1, MostReact: 2, LeastHalt: 0.2, MostHalt: 0.4, TurnError: 0.25,
	AmountTurnsS: handSpeed, SlowTurnsS: slowSpeed, WrongWay: 0.03,
	SlotError: 1.0 / 32, Patience: 15, NutS: 2, TraceS: 20, WarmS: 6, CoolS: 60}

// Normal is who watches the word, Sloppy a slow and hasty one whose hand runs on, and Stepwise a wary one who makes an
// amount by eighths, two to three seconds apart, and looks in between. All chosen.
var (
	Normal = Habits{Glance: watchS, LeastReact: 0.4, MostReact: 0.8, LeastReach: 1.5, MostReach: 3, LeastHalt: 0.4,
		MostHalt: 0.8, RunOn: 0.05, TurnError: 0.3, AngleError: 0.005, AmountTurnsS: slowSpeed,
		SlowTurnsS: slowSpeed, WrongWay: 0.01, Patience: 15, NutS: 2, TraceS: 20, WarmS: 6, CoolS: 60}
	Sloppy = Habits{Glance: watchS, LeastReact: 1.2, MostReact: 1.8, LeastReach: 1.5, MostReach: 3, LeastHalt: 1.2,
		MostHalt: 1.8, RunOn: 0.1, TurnError: 0.3, AngleError: 0.01, AmountTurnsS: 2 * slowSpeed,
		SlowTurnsS: 2 * slowSpeed, WrongWay: 0.03, Patience: 15, NutS: 2, TraceS: 20, WarmS: 6, CoolS: 60}
)

// Slipping is normal, but slips in one turn of eight.
var Slipping = normalBut(func(h *Habits) { h.WrongWay, h.SlipsOn = 1.0/8, true })

// Stepwise is normal beside that.
var Stepwise = normalBut(func(h *Habits) { h.Part, h.LeastPause, h.MostPause = 1.0/8, 1.5, 2.3 })

func normalBut(change func(*Habits)) Habits {
	h := Normal
	change(&h)
	return h
}

// watchS is the time between two looks of who watches the word. Chosen.
const watchS = 0.1

// Paces of every hand.
const (
	handSpeed  = 0.5     // turns a second, an amount that is told
	slowSpeed  = 1.0 / 8 // turns a second, until it is stopped
	leastSpeed = slowSpeed / 2
	handStep   = 0.05 // s between two small movements
	// paceWordS is for how long a word about the pace must stand until the hand does it again.
	paceWordS = 1.5
	// backS is how long a hand pauses before it turns back. Chosen.
	backS = 0.2
)

// throttleStop stands for the throttle stop among the screws, and noScrew for none in hand.
const (
	noScrew      = -1
	throttleStop = -2
)

// person is whose hand it is, and at which engine.
type person struct {
	habits *Habits
	engine *engine.Engine
	rng    *rand.Rand // of its chances
}

// off returns a figure that the hand gets wrong by chance.
func (p *person) off(v float64) float64 { return v * (1 + p.habits.TurnError*(2*p.rng.Float64()-1)) }

func (p *person) between(least, most float64) float64 { return least + (most-least)*p.rng.Float64() }

// react is how long it takes from seeing to turning, this time.
func (p *person) react() float64 { return p.between(p.habits.LeastReact, p.habits.MostReact) }

// Hand turns a practice engine's screws.
type Hand struct {
	person
	turned  map[int]bool // screws that were turned before
	loose   map[int]bool // screws whose lock nuts are open
	screw   int          // in hand, or noScrew
	at      int          // the one that it is at, in hand or not
	toward  int          // the one that it is on its way to, told beside a lock nut, or noScrew
	since   float64      // since when, s
	turning int          // that left is of
	left    float64      // turns still to make, clockwise positive
	speed   float64      // turns a second
	due     float64      // when the next movement is due
	begun   bool         // the screw has begun to move
	last    float64      // turns made in the last movement, clockwise positive
	halt    float64      // when the hand stops turning; 0 is when left is made
	after   func()       // what it begins then, nil for nothing
	// turns counts how often a screw was taken in hand, moves how often the hand began to move.
	turns, moves int
	slips        int // movements the other way than told
}

// NewHand returns a hand at rest. The seed is of its chances.
func NewHand(e *engine.Engine, habits *Habits, seed uint64) *Hand {
	return &Hand{person: person{habits, e, rand.New(rand.NewPCG(seed, 77))}, turned: map[int]bool{},
		loose: map[int]bool{}, screw: noScrew, at: noScrew, toward: noScrew}
}

// Busy reports whether the hand moves, or is about to.
func (h *Hand) Busy() bool { return h.left != 0 }

// Counts returns how often a screw was taken in hand, and how often the hand began to move: while it
// stays on a screw, going on, slower or back, it has taken it once.
func (h *Hand) Counts() (turns, moves int) { return h.turns, h.moves }

// Slips returns how many movements were the other way than told.
func (h *Hand) Slips() int { return h.slips }

// Loose returns the screws of a bank whose lock nuts are open, in the bank's order.
func (h *Hand) Loose(b *bank.Bank) (screws []int) {
	for s := range b.Screws {
		if h.loose[s] {
			screws = append(screws, s)
		}
	}
	return screws
}

// nutTime is how long it takes to get to a lock nut and tighten it, this time; the hand is at its screw then.
func (h *Hand) nutTime(screw int) float64 {
	takes := h.habits.NutS
	if screw != h.at {
		takes += h.reach()
	}
	h.at, h.toward = screw, noScrew
	return takes
}

// Tighten closes a screw's lock nut, which shifts its setting a little.
func (h *Hand) Tighten(screw int) {
	h.engine.LockNut(screw)
	delete(h.loose, screw)
}

// reach is how long it takes to get from one screw to another.
func (h *Hand) reach() float64 { return h.between(h.habits.LeastReach, h.habits.MostReach) }

// Begin turns a screw of the bank by an amount, clockwise positive, after a reaction.
func (h *Hand) Begin(now float64, screw int, amount float64) {
	off := h.off(amount) + math.Copysign(h.habits.AngleError*(2*h.rng.Float64()-1), amount)
	if off*amount < 0 {
		off = 0
	}
	speed := h.habits.AmountTurnsS
	if h.habits.RunOn > 0 {
		speed = h.off(speed)
	}
	h.start(now, screw, off, speed)
}

// start begins a movement; a hand that still moves comes to rest first.
func (h *Hand) start(now float64, screw int, amount, speed float64) {
	if h.Busy() {
		h.rest(now)
	}
	if h.Busy() {
		h.after = func() { h.begin(h.halt+backS, screw, amount, speed) }
		return
	}
	h.begin(h.ready(now, screw), screw, amount, speed)
}

// ready is when the hand is ready to turn a screw that is named now. One that is on its way to it looks up meanwhile;
// one that is on its way to another has to come back.
func (h *Hand) ready(now float64, screw int) float64 {
	due := now + h.react()
	gone := 0.0
	if h.toward != noScrew {
		gone = now - h.since
	}
	switch {
	case screw == h.at:
		return due + min(gone, h.habits.MostReach)
	case screw == h.toward:
		return max(due, h.since+h.reach())
	}
	return due + h.reach()
}

// setOff has the hand go to the screw that comes after a lock nut that is done.
func (h *Hand) setOff(now float64, screw int) { h.toward, h.since = screw, now }

// begin makes a movement due.
func (h *Hand) begin(due float64, screw int, amount, speed float64) {
	if screw != h.screw {
		h.screw = screw
		h.turns++
	}
	if slips := !h.turned[screw] || h.habits.SlipsOn; slips && h.rng.Float64() < h.habits.WrongWay {
		amount = -amount
		h.slips++
	}
	h.turned[screw], h.loose[screw], h.at, h.toward = true, true, screw, noScrew
	h.turning, h.left, h.speed, h.halt, h.due, h.after = screw, amount, speed, 0, due, nil
	h.begun = false
	h.moves++
}

// pace has a hand that turns until it is stopped turn slower by that factor.
func (h *Hand) pace(factor float64) {
	if math.IsInf(h.left, 0) {
		h.speed = min(max(h.speed*factor, leastSpeed), handSpeed)
	}
}

// rest has the hand come to rest, the screw still in it: after a reaction it turns on for a little.
func (h *Hand) rest(now float64) {
	h.after = nil
	switch {
	case !h.Busy() || h.halt != 0:
	case !h.begun && h.habits.RunOn > 0:
		h.left = 0
	default:
		h.halt = now + h.between(h.habits.LeastHalt, h.habits.MostHalt) + h.habits.RunOn*h.rng.Float64()/h.speed
	}
}

// letGo has the hand come to rest and leave the screw.
func (h *Hand) letGo(now float64) {
	h.rest(now)
	h.screw = noScrew
}

// Move makes the movements that are due.
func (h *Hand) Move(now float64) {
	for h.left != 0 && now >= h.due {
		if h.halt != 0 && h.due >= h.halt {
			h.left = 0
			h.goOn()
			continue
		}
		step := math.Copysign(min(h.speed*handStep, math.Abs(h.left)), h.left)
		if !h.begun {
			h.begun, h.last = true, 0
		}
		h.last += step
		if h.turning == throttleStop {
			h.engine.TurnStop(step)
		} else {
			h.engine.Turn(h.turning, step)
		}
		if h.left -= step; math.Abs(h.left) < 1e-9 {
			h.left = 0
			h.goOn()
			continue
		}
		h.due += handStep
	}
}

// goOn begins what waits for the hand to be at rest.
func (h *Hand) goOn() {
	if after := h.after; after != nil {
		h.halt = max(h.halt, h.due)
		after()
	}
}

// errand is something that takes its time, and is done at its end.
type errand struct {
	takes func() float64 // s, asked when it begins
	do    func()         // nil: it is only waited
}

// errands are done one after the other.
type errands struct {
	list  []errand
	begun bool
	due   float64 // when the first is done, once begun
}

func (e *errands) add(takes float64, do func()) { e.addTimed(func() float64 { return takes }, do) }

// addTimed adds what takes a time that is asked when it begins.
func (e *errands) addTimed(takes func() float64, do func()) {
	e.list = append(e.list, errand{takes, do})
}

// busy reports whether any is left.
func (e *errands) busy() bool { return len(e.list) > 0 }

// pass does what is due.
func (e *errands) pass(now float64) {
	for len(e.list) > 0 {
		if !e.begun {
			e.begun, e.due = true, now+e.list[0].takes()
		}
		if now < e.due {
			return
		}
		first := e.list[0]
		e.list, e.begun = e.list[1:], false
		if first.do != nil {
			first.do()
		}
	}
}

// handed calls a function before each read.
type handed struct {
	src    io.Reader
	before func()
}

// Handed is a practice engine's bytes with a hand that acts before each piece is read.
func Handed(src io.Reader, before func()) io.Reader { return &handed{src, before} }

// handedBytes is the most that is read at once: what a hand does comes no later than that.
const handedBytes = 512

func (h *handed) Read(b []byte) (int, error) {
	h.before()
	return h.src.Read(b[:min(len(b), handedBytes)])
}
