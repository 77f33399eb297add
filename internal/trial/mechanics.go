package trial

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/frame"
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
	return byAdviceOn(b, c, &last)
}

// byAdviceOn does the work of advised on a bench whose bytes go to c; last is
// the newest reading.
func byAdviceOn(b *bench, c *session.Chain, newest **balance.Reading) Outcome {
	b.run(settleBefore)
	if !c.StartZero() {
		return Outcome{}
	}
	b.run(settleBefore + sensor.ZeroSeconds + 0.1)
	b.start()
	m := follower{bench: b}
	for b.now < b.started+b.longest {
		b.look()
		if *newest != nil && m.act(&(*newest).Advice) {
			return b.outcome(true)
		}
	}
	return b.outcome(false)
}

// follower does what the advice says.
type follower struct {
	*bench
	acted advice.Advice // the turn that the hand is at
	asked advice.Why    // check that was done, and is not to be done again at once
	until float64
}

// act does what the mechanic reads at a glance; done is true when the bank is level
// and nothing is left to do.
func (m *follower) act(a *advice.Advice) (done bool) {
	switch a.Kind {
	case advice.Done:
		m.hand.letGo(m.now)
		return !m.tighten()
	case advice.Turn, advice.Reverse:
		m.turn(a)
		return false
	case advice.Wait:
		if a.Why == advice.WhyNoCycle && !m.engine.Truth().Running {
			m.engine.Start()
		}
	}
	m.hand.letGo(m.now)
	m.acted = advice.Advice{}
	switch {
	case a.Why == advice.WhyHoses:
		m.traceHoses()
	case a.Why == advice.WhyHot:
		m.cool()
	case a.Why != advice.WhyBlip && a.Why != advice.WhyNuts || a.Why == m.asked && m.now < m.until:
	case a.Why == advice.WhyBlip:
		m.pass(m.hand.between(leastReact, mostReact))
		m.engine.Blip()
		m.asked, m.until = a.Why, m.now+patience
	default:
		m.pass(m.hand.between(leastReact, mostReact))
		m.tighten()
		m.asked, m.until = a.Why, m.now+patience
	}
	return false
}

// traceSeconds is how long the mechanic traces the hoses, the engine off, and
// coolSeconds how long the engine stands before the next look at the advice.
const (
	traceSeconds = 20.0
	coolSeconds  = 60.0
)

// traceHoses puts all hoses on their own ports.
func (m *follower) traceHoses() {
	m.pass(m.hand.between(leastReact, mostReact))
	m.engine.Stop()
	m.pass(traceSeconds)
	m.engine.MendHoses()
	m.engine.Start()
	m.pass(warmSeconds)
}

// cool lets the engine stand until the advice no longer asks for it.
func (m *follower) cool() {
	if m.engine.Truth().Running {
		m.pass(m.hand.between(leastReact, mostReact))
		m.engine.Stop()
		return
	}
	m.pass(coolSeconds)
}

// patience is how long the mechanic waits before a check that is still asked for is
// done again.
const patience = 15.0

// turn turns a screw as told. A hand that moves as told goes on, by the amount first
// told.
func (m *follower) turn(a *advice.Advice) {
	same := a.Screw == m.acted.Screw && a.Direction == m.acted.Direction
	switch {
	case m.hand.busy() && same:
		switch a.Why {
		case advice.WhySlower:
			m.hand.pace(1.0 / 2)
		case advice.WhyFaster:
			m.hand.pace(2)
		}
		return
	}
	m.acted, m.asked = *a, ""
	if math.IsNaN(a.Turns) {
		m.hand.beginSlow(m.now, a.Screw, a.Direction.Sign())
	} else {
		m.hand.begin(m.now, a.Screw, a.SignedTurns())
	}
}

// Habits of the rival, who watches a damped gauge per cylinder and has no
// advice.
const (
	gaugeDamping   = 1.0  // s, first order
	gaugeSettle    = 3.0  // s of waiting for a gauge after a turn
	gaugeLooks     = 3    // looks at a gauge that the eye averages
	gaugeNear      = 0.35 // kPa: as level as such a gauge can be read
	gaugeFirstTurn = 0.25 // turns of a first try
	gaugeLeastTurn = 1.0 / 16
	gaugeRounds    = 40
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
	r := &gaugeMechanic{bench: b, gauges: g, directionOf: map[int]float64{}}
	r.watch()
	for range gaugeRounds {
		screw, off := r.worst()
		if screw < 0 {
			if !b.tighten() {
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

// gaugeMechanic levels by gauges, without advice: the rival.
type gaugeMechanic struct {
	bench       *bench
	gauges      *gauges
	directionOf map[int]float64 // per screw: +1 clockwise raises, -1 lowers, 0 unknown
	read        [sensor.MaxChannels]float64
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
			if o := r.off(s); len(bk.Screws[s].Moves) == size && math.Abs(o) > gaugeNear {
				return s, o
			}
		}
	}
	return -1, 0
}

// level turns one screw until its cylinders look level, or it gets no better.
func (r *gaugeMechanic) level(screw int, off float64) {
	step := gaugeFirstTurn
	for math.Abs(off) > gaugeNear && step >= gaugeLeastTurn {
		way := 1.0
		if s := r.directionOf[screw]; s != 0 {
			way = -s * math.Copysign(1, off)
		}
		r.turn(screw, way*step)
		now := r.off(screw)
		r.directionOf[screw] = math.Copysign(1, now-off) * way
		if now*off < 0 { // past it: finer
			step /= 2
		}
		if r.bench.now > r.bench.started+r.bench.longest {
			return
		}
		off = now
	}
}

// turn turns a screw and waits for the gauges.
func (r *gaugeMechanic) turn(screw int, amount float64) {
	r.bench.hand.begin(r.bench.now, screw, amount)
	for r.bench.hand.busy() {
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
