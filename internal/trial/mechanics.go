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
func byAdvice(k bike, trace func(line string)) Outcome {
	b := newBench(k)
	w := &watch{engine: b.engine, trace: trace, moves: b.hand.Busy}
	var last *balance.Reading
	bk := k.config.Bank
	c := session.NewChain(session.Config{Bank: &bk, Ambient: pressure.StandardAtmosphere(0)},
		func(r *balance.Reading) {
			last = r
			w.push(r)
		})
	w.chain, c.Keys = c, true
	b.feed = c.Feed
	return followAdvice(b, c, w, &last)
}

// followAdvice does the work of byAdvice on a bench whose bytes go to c; last is
// the newest reading.
func followAdvice(b *bench, c *session.Chain, w *watch, newest **balance.Reading) Outcome {
	b.run(settleBefore)
	if !c.StartZero() {
		return Outcome{}
	}
	b.run(settleBefore + sensor.ZeroSeconds + 0.1)
	b.engine.Start()
	b.started = b.now
	m := practice.NewMechanic(b.hand, &b.bank)
	m.GoOn = func() {
		c.GoOn()
		w.goOn()
	}
	b.moves = m.Pass
	first := true
	for b.now < b.started+b.longest {
		b.look()
		if *newest != nil {
			done := m.Look(&(*newest).Advice)
			if w.done && first {
				first = false
				w.Loose = len(b.hand.Loose(&b.bank))
			}
			if done {
				return b.outcome(true, w)
			}
		}
		for m.Away() {
			b.step()
		}
	}
	return b.outcome(false, w)
}

// Habits of the rival, who watches a damped gauge per cylinder and has no
// advice.
const (
	gaugeDamping = 1.0     // s, first order
	gaugeStart   = 4.0     // s until an engine that was started, and the gauges, have settled
	gaugeSettle  = 2.0     // s of waiting for a gauge after a turn
	gaugeLooks   = 3       // looks at a gauge that the eye averages
	rivalNear    = 0.3     // kPa: as level as such a gauge can be read
	rivalFirst   = 1.0 / 8 // turns of a first try
	rivalLeast   = 1.0 / 64
	rivalMost    = 1.0 / 2 // turns at once
	rivalMoves   = 8       // of one screw in a row
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
	b.engine.Start()
	b.started = b.now
	b.run(b.now + gaugeStart)
	r := &gaugeMechanic{bench: b, gauges: g, effect: map[int]float64{}}
	r.watch()
	for range rivalRounds {
		screw, off := r.worst()
		if screw < 0 {
			if !r.tighten() {
				return b.outcome(true, nil)
			}
			r.watch()
			continue
		}
		if b.now > b.started+b.longest {
			break
		}
		r.level(screw, off)
	}
	return b.outcome(false, nil)
}

// gaugeMechanic is what who watches gauges knows.
type gaugeMechanic struct {
	bench  *bench
	gauges *gauges
	effect map[int]float64 // kPa a clockwise turn, 0 unknown
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

// level turns one screw until its cylinders look level, each time by what it was seen to do.
func (r *gaugeMechanic) level(screw int, off float64) {
	for range rivalMoves {
		if math.Abs(off) <= rivalNear || r.bench.now > r.bench.started+r.bench.longest {
			return
		}
		turns := rivalFirst
		if e := r.effect[screw]; e != 0 {
			turns = -off / e
			turns = math.Copysign(min(max(math.Abs(turns), rivalLeast), rivalMost), turns)
		}
		r.turn(screw, turns)
		now := r.off(screw)
		if e := (now - off) / turns; math.Abs(now-off) > rivalNear/2 {
			r.effect[screw] = e
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
		b.run(b.now + b.habits.NutS)
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
