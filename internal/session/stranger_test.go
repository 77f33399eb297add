package session_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// strangeKind is what is odd about an engine.
type strangeKind struct {
	name string
	make func(e *strangeEngine, g *rand.Rand)
}

// strangeKinds are the engines. The odd ones are chosen; a charge that scatters by a quarter is a very lumpy idle.
var strangeKinds = []strangeKind{
	{"calm", func(e *strangeEngine, _ *rand.Rand) { e.sways = 0.005 }},
	{"rough", func(e *strangeEngine, _ *rand.Rand) { e.scatter = 0.15 }},
	{"lumpy", func(e *strangeEngine, _ *rand.Rand) { e.scatter = 0.25 }},
	{"hunts", func(e *strangeEngine, g *rand.Rand) { e.hunt, e.huntHz = 0.05, 0.25+0.3*g.Float64() }},
	{"joined", func(e *strangeEngine, _ *rand.Rand) { e.joined = 0.5 }},
	{"rings", func(e *strangeEngine, g *rand.Rand) {
		for _, c := range e.cyls {
			c.damping, c.hz, c.lag = 0.06+0.08*g.Float64(), 40+40*g.Float64(), 0.0005
		}
	}},
}

// strangeRig is an engine, a board and the stages, joined.
type strangeRig struct {
	engine *strangeEngine
	board  *strangeBoard
	chain  *session.Chain
	newest *balance.Reading
	told   float64 // when the word last changed, s
	counts []uint16
	steps  int
}

// newStrangeRig returns an engine whose screws do 3 to 24 kPa a turn, either way, and stand 1.5 to 5 kPa off.
func newStrangeRig(n int, seed uint64, kind *strangeKind) *strangeRig {
	g, four := rand.New(rand.NewPCG(seed, 5)), bank.Default(n)
	e := newStrangeEngine(n, seed)
	either := func() float64 { return 2*float64(g.IntN(2)) - 1 }
	for _, b := range four.Screws {
		kPa := 3 + 21*g.Float64()*g.Float64()
		s := &strangeScrew{name: b.Name, gain: either() * kPa / -e.slope, nut: 0.005 + 0.02*g.Float64(), tight: true}
		for _, m := range b.Moves {
			s.moves = append(s.moves, m-1)
		}
		if g.Float64() < 0.4 {
			s.slack = 0.02 + 0.06*g.Float64()
		}
		s.head = either() * (1.5 + 3.5*g.Float64()) / kPa
		s.wedge = s.head
		e.screws = append(e.screws, s)
	}
	for _, c := range e.cyls {
		c.hz, c.damping, c.lag = 60+80*g.Float64(), 0.25+0.4*g.Float64(), 0.001+0.004*g.Float64()
	}
	e.stop = -0.05 + 0.2*g.Float64()
	kind.make(e, g)
	r := &strangeRig{engine: e, board: newStrangeBoard(n), counts: make([]uint16, n)}
	cfg := session.Config{Bank: &four, Ambient: strangeAmbient, AmbientFrom: session.FromZeroPass, Zeroed: true,
		IdlingLimit: 900}
	cfg.Setup.Ambient, cfg.Idle.LowRPM, cfg.Idle.HighRPM = strangeAmbient, 1000, 1100
	sold, err := sensor.ParseKind("MPX4115A")
	if err != nil {
		panic(err)
	}
	for range n {
		cfg.Setup.Kinds = append(cfg.Setup.Kinds, sold)
		cfg.Setup.Offsets, cfg.ZeroUncertainty = append(cfg.Setup.Offsets, 0), append(cfg.ZeroUncertainty, 0.002)
	}
	var last advice.Advice
	r.chain = session.NewChain(cfg, func(g *balance.Reading) {
		if r.newest = g; !g.Advice.Same(&last) {
			last, r.told = g.Advice, e.t
		}
	})
	r.chain.Keys = true
	return r
}

// step goes on by one step of time; the board sends a frame every ten, and reads a sensor in each.
func (r *strangeRig) step() {
	const frame, second = 10, 10000
	r.engine.step()
	at := r.steps % frame
	if at < len(r.counts) {
		r.counts[at] = r.engine.count(at)
	}
	if at == 0 {
		r.board.tick += frame * strangeStep * 1e6
	}
	if at == frame/2 {
		if r.steps%second == frame/2 {
			r.chain.Feed(r.board.announce())
		}
		r.chain.Feed(r.board.frame(r.counts))
	}
	r.steps++
}

// strangeJob is how a job went.
type strangeJob struct {
	level         float64 // when it was told level, s; 0 is never
	spread        float64 // true at the end, kPa
	start, widest float64 // true at first and at most, kPa
	nameless      bool    // it was told that nothing answers, and not which screw
}

// strangerSeconds is the longest that a job may last, s. Chosen: five minutes of idling.
const strangerSeconds = 300.0

// runStranger has a hand work on a rig until the bank is told level.
func runStranger(n int, seed uint64, kind *strangeKind, h strangeHand) strangeJob {
	r, j := newStrangeRig(n, seed, kind), strangeJob{start: math.NaN()}
	h.rig, h.rng, h.release = r, rand.New(rand.NewPCG(seed, 9)), math.Inf(1)
	const look, looks = 200, 50 // steps between what the hand does, and such between two looks at the truth
	for end := strangerSeconds; r.engine.t < end; {
		r.step()
		h.move()
		if r.steps%look != 0 || r.newest == nil {
			continue
		}
		if r.steps%(look*looks) == 0 && r.engine.t > 6 {
			j.spread = r.engine.spread(30)
			if math.IsNaN(j.start) {
				j.start = j.spread
			}
			j.widest = max(j.widest, j.spread)
		}
		a := &r.newest.Advice
		j.nameless = j.nameless || a.Why == advice.WhyNoAnswer && a.ScrewName == ""
		if h.act(); j.level == 0 && h.done {
			j.level, end = r.engine.t, r.engine.t+6
		}
	}
	j.spread = r.engine.spread(40)
	return j
}

// The whole chain, fed by a board that was written from the protocol alone, levels engines whose physics share nothing
// with the practice engine, for a careful hand and for a hasty one: no bank is told level that is not, and of twenty
// nineteen are level in time.
func TestAStrangeEngineIsLevelled(t *testing.T) {
	t.Parallel()
	jobs, level, all := effort.Of(1, 3), 0, 0
	for _, kind := range effort.Of(strangeKinds[2:4], strangeKinds) {
		for _, n := range effort.Of([]int{3}, []int{2, 3, 4}) {
			for name, hand := range effort.Of(map[string]strangeHand{"careful": careful},
				map[string]strangeHand{"careful": careful, "hasty": hasty}) {
				took := 0.0
				for seed := range jobs {
					j := runStranger(n, uint64(seed+1), &kind, hand)
					if all++; j.level > 0 {
						level++
						took += j.level / float64(jobs)
					} else {
						t.Logf("%s, %d cylinders, %s hand, seed %d: not level, %.2f kPa", kind.name, n, name, seed+1,
							j.spread)
					}
					if j.level > 0 && j.spread > 0.7 || j.widest > 2*j.start+3 || j.nameless {
						t.Errorf("%s, %d cylinders, %s hand, seed %d: %.2f kPa at the end, %.2f at most, nameless %v",
							kind.name, n, name, seed+1, j.spread, j.widest, j.nameless)
					}
				}
				t.Logf("%s, %d cylinders, %s hand: level after %.0f s", kind.name, n, name, took)
			}
		}
	}
	if t.Logf("%d of %d level", level, all); level*20 < all*19 {
		t.Error("too few")
	}
}

// Whatever the hand does, no bank is told level that is not; most come level all the same.
func TestOddHandsAtAStrangeEngine(t *testing.T) {
	t.Parallel()
	jobs := effort.Of(1, 4)
	for name, change := range map[string]func(h *strangeHand){
		"late":           func(h *strangeHand) { h.late = 3 },
		"wrong way":      func(h *strangeHand) { h.wrong = 0.1 },
		"does not":       func(h *strangeHand) { h.idles = 0.25 },
		"presses no key": func(h *strangeHand) { h.noKeys = true },
	} {
		for _, kind := range effort.Of(strangeKinds[:1], strangeKinds[1:3]) {
			hand, level := careful, 0
			change(&hand)
			for seed := range jobs {
				j := runStranger(4, uint64(seed+1), &kind, hand)
				if j.level > 0 {
					level++
				}
				if j.level > 0 && j.spread > 0.7 || j.widest > 3*j.start || j.nameless {
					t.Errorf("%s, %s, seed %d: %.1f kPa at the end, %.1f at most, nameless %v", kind.name, name,
						seed+1, j.spread, j.widest, j.nameless)
				}
			}
			t.Logf("%s, hand %q: %d of %d level", kind.name, name, level, jobs)
			if jobs > 1 && level < jobs/2 {
				t.Error("too few")
			}
		}
	}
}
