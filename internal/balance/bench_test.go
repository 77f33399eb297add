package balance

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// bench is a bank without physics: draws, screws with true effects, and the
// scatter of cycles. A patient hand follows the advice.
type bench struct {
	bank    bank.Bank
	draw    []float64
	effect  []float64 // true, kPa per clockwise turn
	scatter float64
	slack   float64    // turns that a screw makes before its cylinders follow another way
	taken   [4]float64 // of it, by screw, of what was turned clockwise last
	upset   int        // cycles for which a turn makes the speed unsteady, as of a lumpy idle
	upsets  int        // that are left
	play    float64    // of the linkage, kPa: see blipIt
	hunts   float64    // share by which the idle rises and falls, and by three times that what stands apart
	sways   float64    // by how much each cylinder rises and falls with that, kPa, after the one before
	deaf    [4]float64 // share by which a cylinder answers less than its screws say
	rng     *rand.Rand
	time    float64

	hand    advice.Advice // what the hand is doing
	left    float64       // turns still to make
	way     float64       // of them, +1 clockwise
	last    float64       // turns made in this movement, or the last, clockwise positive
	pace    float64       // turns a cycle
	react   int           // cycles until the hand sees the screen
	turns   int           // screws taken in hand
	travel  float64       // turns made
	holding int           // screw, -1 for none
	blip    int           // cycles left of a blip
}

func newBench(n int, seed uint64) *bench {
	b := &bench{bank: bank.Default(n), scatter: 0.1, holding: -1, rng: rand.New(rand.NewPCG(seed, 9))}
	for range n {
		b.draw = append(b.draw, 25+8*(b.rng.Float64()-0.5))
	}
	for range b.bank.Screws {
		e := 2 + 4*b.rng.Float64()
		if b.rng.IntN(2) == 0 {
			e = -e
		}
		b.effect = append(b.effect, e)
	}
	return b
}

// huntS is how long an idle that hunts takes to rise and fall, s.
const huntS = 2.5

// span returns the next cycle.
func (b *bench) span() cycle.Span {
	period := 0.115
	if b.blip > 0 {
		b.blip--
		period /= 1 + float64(b.blip)/8
	}
	s := cycle.Span{Start: b.time, Period: period, Cycle: true, N: len(b.draw)}
	common := 0.3 * b.rng.NormFloat64()
	swing, mean := b.hunts*math.Sin(2*math.Pi*b.time/huntS), 0.0
	if s.Period /= 1 + swing; b.upsets > 0 {
		s.Period *= 1 + 0.12*b.rng.NormFloat64()
		b.upsets--
	}
	for _, d := range b.draw {
		mean += d / float64(len(b.draw))
	}
	for c, d := range b.draw {
		d += swing*(mean+2*(d-mean)) + b.sways*math.Sin(2*math.Pi*(b.time/huntS-float64(c)/4))
		s.Mean[c] = pressure.KPa(101.3 - d + common + b.scatter*b.rng.NormFloat64())
		s.Lowest[c], s.Highest[c], s.State[c], s.Opening[c] = 50, 95, cycle.OK, math.NaN()
		s.DipAt[c] = b.bank.FiringAngle(c+1) / 720
	}
	b.time += s.Period
	return s
}

// Paces of a hand, turns a cycle.
const (
	usualPace = 0.06
	slowly    = 0.015
)

// follow lets the hand act for one cycle on what it sees, once in eight cycles.
func (b *bench) follow(a advice.Advice) {
	if b.react--; b.react <= 0 {
		b.react = 8
		b.act(a)
	}
	step := min(b.left, b.pace)
	b.left -= step
	b.travel += step
	b.last += step * b.way
	if step > 0 {
		b.turn(b.hand.Screw, step*b.way)
	}
}

// turn turns a screw by so many turns, clockwise positive.
func (b *bench) turn(screw int, turns float64) {
	if b.slack > 0 {
		at := b.taken[screw] + turns
		b.taken[screw] = min(max(at, 0), b.slack)
		turns = at - b.taken[screw]
	}
	b.upsets = b.upset
	for _, c := range b.bank.Screws[screw].Moves {
		b.draw[c-1] += turns * b.effect[screw] * (1 - b.deaf[c-1])
	}
}

// blipIt blips the throttle, which moves the pair of cylinders that the last screw moves by the linkage's play, to and
// fro.
func (b *bench) blipIt() {
	b.blip = 16
	for _, c := range b.bank.Screws[len(b.bank.Screws)-1].Moves {
		b.draw[c-1] += b.play
	}
	b.play = -b.play
}

func (b *bench) act(a advice.Advice) {
	switch {
	case a.Why == advice.WhyBlip && b.blip == 0:
		b.blipIt()
	case a.Kind != advice.Turn && a.Kind != advice.Reverse:
		b.left, b.holding = 0, -1
	case b.left > 0 && a.Screw == b.hand.Screw && (a.Direction == b.hand.Direction || a.Why == advice.WhyKeepOn):
		if a.Why == advice.WhySlower && math.IsInf(b.left, 0) {
			b.pace = max(b.pace/2, slowly/2)
		}
	default:
		if a.Screw != b.holding {
			b.turns++
		}
		b.hand, b.holding, b.pace = a, a.Screw, usualPace
		b.way, b.left = turnOf(&a, b.last)
		if b.last = 0; math.IsInf(b.left, 0) {
			b.pace = slowly
		}
	}
}

func (b *bench) spread() float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, d := range b.draw {
		low, high = min(low, d), max(high, d)
	}
	return high - low
}
