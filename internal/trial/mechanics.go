package trial

import (
	"math"

	"evendraw/internal/balance"
	"evendraw/internal/frame"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// byAdvice lets the mechanic follow the advice on the screen and nothing else.
func byAdvice(k bike) Outcome {
	b := newBench(k)
	var last *balance.Reading
	bk := k.config.Bank
	c := session.NewChain(session.Config{Bank: &bk, Ambient: pressure.StandardAtmosphere(0)},
		func(r *balance.Reading) { last = r })
	b.feed = c.Feed
	return followAdvice(b, c, &last)
}

// followAdvice does the work of byAdvice on a bench whose bytes go to c; last is
// the newest reading.
func followAdvice(b *bench, c *session.Chain, newest **balance.Reading) Outcome {
	b.run(settleBefore)
	if !c.StartZero() {
		return Outcome{}
	}
	b.run(settleBefore + sensor.ZeroSeconds + 0.1)
	b.start()
	m := practice.NewMechanic(b.hand, &b.bank)
	b.moves = m.Pass
	for b.now < b.started+b.longest {
		b.look()
		if *newest != nil && m.Look(&(*newest).Advice) {
			return b.outcome(true)
		}
		for m.Away() {
			b.step()
		}
	}
	return b.outcome(false)
}

// Habits of the rival, who watches a damped gauge per cylinder and has no
// advice.
const (
	gaugeDamping = 1.0  // s, first order
	gaugeSettle  = 3.0  // s of waiting for a gauge after a turn
	gaugeLooks   = 3    // looks at a gauge that the eye averages
	rivalNear    = 0.35 // kPa: as level as such a gauge can be read
	rivalFirst   = 0.25 // turns of a first try
	rivalLeast   = 1.0 / 16
	rivalRounds  = 40
)

// gauges are damped gauges on the channels, their offsets taken out as for the
// advice.
type gauges struct {
	dec   frame.Decoder
	conv  *sensor.Converter
	zero  *sensor.ZeroPass
	off   []pressure.KPa
	last  float64
	shown [sensor.MaxChannels]float64 // kPa absolute
}

func (g *gauges) feed(p []byte) error {
	g.dec.Feed(p)
	for f, ok := g.dec.Next(); ok; f, ok = g.dec.Next() {
		if g.conv == nil {
			g.conv = sensor.NewConverter(sensor.Setup{})
			g.conv.Announce(g.dec.Board())
			g.zero = sensor.NewZeroPass(sensor.Setup{}, g.dec.Board().Channels, 0)
		}
		s := g.conv.Push(f)
		if g.zero != nil && g.zero.Push(s) {
			z, err := g.zero.Result()
			if err != nil {
				return err
			}
			g.off, g.zero = z.Offsets, nil
		}
		share := 1 - math.Exp(-(s.Time-g.last)/gaugeDamping)
		g.last = s.Time
		for i := range s.N {
			v := float64(s.Absolute[i])
			if g.off != nil {
				v -= float64(g.off[i])
			}
			g.shown[i] += share * (v - g.shown[i])
		}
	}
	return nil
}

// byGauges lets the same mechanic level the bank by gauges: screw by screw, pairs
// first, a turn, a wait, a look whether it got better.
func byGauges(k bike) Outcome {
	b := newBench(k)
	g := &gauges{}
	b.feed = g.feed
	b.run(settleBefore + sensor.ZeroSeconds + 0.5)
	b.start()
	r := &gaugeMechanic{bench: b, gauges: g, sense: map[int]float64{}}
	r.watch()
	for range rivalRounds {
		screw, off := r.worst()
		if screw < 0 {
			if !r.tighten() {
				return b.outcome(true)
			}
			r.watch()
			continue
		}
		if b.now > b.started+b.longest {
			break
		}
		r.level(screw, off)
	}
	return b.outcome(false)
}

// gaugeMechanic is what who watches gauges knows.
type gaugeMechanic struct {
	bench  *bench
	gauges *gauges
	sense  map[int]float64 // per screw: +1 clockwise raises, -1 lowers, 0 unknown
	read   [sensor.MaxChannels]float64
}

// off is how far a screw's cylinders read above those it leaves alone: within
// its pair for a screw of one cylinder.
func (r *gaugeMechanic) off(screw int) float64 {
	bk := &r.bench.bank
	var moved, still, n, m float64
	moves := bk.Screws[screw].Moves
	for c := 1; c <= bk.Cylinders; c++ {
		p := r.read[bk.Channels[c-1]]
		if bk.Moves(screw, c) {
			moved += p
			n++
		} else if len(moves) > 1 || c == partner(bk.Cylinders, moves[0]) {
			still += p
			m++
		}
	}
	return moved/n - still/m
}

// partner is the neighbour that a screw of one cylinder is levelled to.
func partner(cylinders, cylinder int) int {
	switch {
	case cylinders == 4 && cylinder == 4:
		return 3
	case cylinder == 1:
		return 2
	}
	return cylinder - 1
}

// worst returns the first screw, those of one cylinder before those of more,
// whose cylinders read off; -1 when all look level.
func (r *gaugeMechanic) worst() (screw int, off float64) {
	bk := &r.bench.bank
	for size := 1; size < bk.Cylinders; size++ {
		for s := range bk.Screws {
			if o := r.off(s); len(bk.Screws[s].Moves) == size && math.Abs(o) > rivalNear {
				return s, o
			}
		}
	}
	return -1, 0
}

// level turns one screw until its cylinders look level, or it gets no better.
func (r *gaugeMechanic) level(screw int, off float64) {
	step := rivalFirst
	for math.Abs(off) > rivalNear && step >= rivalLeast {
		way := 1.0
		if s := r.sense[screw]; s != 0 {
			way = -s * math.Copysign(1, off)
		}
		r.turn(screw, way*step)
		now := r.off(screw)
		r.sense[screw] = math.Copysign(1, now-off) * way
		if now*off < 0 { // past it: finer
			step /= 2
		}
		if r.bench.now > r.bench.started+r.bench.longest {
			return
		}
		off = now
	}
}

// tighten closes all lock nuts that are open, one after the other, and reports whether there were
// any.
func (r *gaugeMechanic) tighten() bool {
	b := r.bench
	loose := b.hand.Loose(&b.bank)
	for _, screw := range loose {
		b.run(b.now + practice.Clumsy.NutS)
		b.hand.Tighten(screw)
	}
	return len(loose) > 0
}

// turn turns a screw and waits for the gauges.
func (r *gaugeMechanic) turn(screw int, amount float64) {
	r.bench.hand.Begin(r.bench.now, screw, amount)
	for r.bench.hand.Busy() {
		r.bench.look()
	}
	for end := r.bench.now + gaugeSettle; r.bench.now < end; {
		r.bench.look()
	}
	r.watch()
}

// watch reads the gauges, averaging a few looks.
func (r *gaugeMechanic) watch() {
	r.read = [sensor.MaxChannels]float64{}
	for range gaugeLooks {
		r.bench.look()
		for i, v := range r.gauges.shown {
			r.read[i] += v / gaugeLooks
		}
	}
}
