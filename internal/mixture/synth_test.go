package mixture

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
)

// synthetic is an idle of known law: a parabola for each pilot screw, a drift, and a
// second-order autoregressive scatter.
type synthetic struct {
	rng, air       *rand.Rand // air: of the refill
	best           []float64  // moved, where each is highest
	bend           float64    // rpm/turn²
	q, f, scatter  float64
	drift          float64 // rpm/s
	now            float64
	rpm, last      float64
	stop, base     float64
	stopRPMPerTurn float64
	carbs          []*carb // instead of parabolas
}

// lopsidedGain is the share of speed that the idle loses per share of torque, roughly that of a practice engine.
const lopsidedGain = 1.4

// crankRPM is the speed below which no engine runs.
const crankRPM = 150.0

// usualRefill is how fast the runners refill, 1/s, stopRefill by which share faster a turn of the throttle stop, and
// refillScatter the standard deviation of that from cycle to cycle: a practice engine's.
const usualRefill, stopRefill, refillScatter = 22.0, 0.3, 0.0011

// synthOut is where a synthetic four's screws stand at first, turns out.
var synthOut = []float64{2, 1.75, 2.125, 2.25}

func newSynthetic(seed uint64) *synthetic {
	rng := rand.New(rand.NewPCG(seed, 9))
	s := &synthetic{rng: rng, air: rand.New(rand.NewPCG(seed, 10)),
		bend: -80 - 20*rng.Float64(), q: 0.075 + 0.02*rng.Float64(), f: 0.2 + 0.07*rng.Float64(),
		scatter: 4 + 0.6*rng.Float64(), drift: 0.4 * (rng.Float64() - 0.5), base: 1050, stopRPMPerTurn: 250}
	for range 4 {
		s.best = append(s.best, rng.Float64()-0.5)
	}
	s.rpm, s.last = s.base, s.base
	return s
}

// span gives the next cycle with the screws where they are.
func (s *synthetic) span(moved *[4]float64) *cycle.Span {
	end := s.base + s.stop*s.stopRPMPerTurn + s.drift*s.now
	for i, b := range s.best {
		if s.carbs == nil {
			end += s.bend * (moved[i] - b) * (moved[i] - b)
		} else {
			end -= s.base * lopsidedGain / 4 * s.carbs[i].loss(s.rng, moved[i])
		}
	}
	next := s.rpm + s.q*(end-s.rpm) + s.f*(s.rpm-s.last) + s.scatter*s.rng.NormFloat64()
	next = max(next, crankRPM) // it dies, and is cranked
	s.last, s.rpm = s.rpm, next
	p := &cycle.Span{Start: s.now, Period: 120 / next, Cycle: true, N: 4}
	for i := range p.N {
		p.Refill[i] = usualRefill * math.Exp(stopRefill*s.stop+refillScatter*s.air.NormFloat64())
	}
	s.now += p.Period
	return p
}

// synthHand is a person at the pilot screws of a synthetic idle: sees a word half a second late, takes two
// seconds to find a slot, and turns half a turn a second.
type synthHand struct {
	rng     *rand.Rand
	presses bool    // Enter, by itself; else only when asked
	forgets float64 // share of turns
	goal    float64
	of      int
	asked   bool
	at      float64 // when the turning begins
	to      float64
	press   float64
	turning bool
	moves   int
}

func (h *synthHand) see(now float64, st *TrimState, trim *Trim, moved *[4]float64) {
	if a := &st.Advice; a.Kind == advice.Turn && a.Part == advice.PilotScrew {
		asked := a.Why == advice.WhyTurned
		switch {
		case h.of != a.Cylinder || h.goal != st.Goal:
			h.of, h.goal, h.asked, h.turning = a.Cylinder, st.Goal, false, true
			h.at, h.press = now+2.5, math.Inf(1)
			h.to = st.Goal + (2*h.rng.Float64()-1)/32
			if h.rng.Float64() < h.forgets {
				h.turning = false
			}
		case asked && !h.asked: // makes the turn that was forgotten, then says so
			h.asked = true
			if h.press = now + 1; math.Abs(moved[h.of-1]-h.goal) > 1.0/16 {
				h.turning, h.at, h.press = true, now+2.5, math.Inf(1)
			}
		}
	}
	if h.turning && now >= h.at {
		const step = 0.05
		left := h.to - moved[h.of-1]
		moved[h.of-1] += math.Copysign(min(step, math.Abs(left)), left)
		h.at += 2 * step
		if math.Abs(left) <= step {
			h.turning = false
			h.moves++
			if h.presses || h.asked {
				h.press = now + 0.5
			}
		}
	}
	if now >= h.press {
		h.press = math.Inf(1)
		trim.Made()
	}
}

// trimSynth trims a synthetic four by a hand of that seed.
func trimSynth(t *testing.T, s *synthetic, seed uint64, presses bool) (_ *synthetic, st TrimState, h *synthHand,
	moved [4]float64) {
	idle := NewIdleSpeed(IdleConfig{})
	out := synthOut
	trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: out}, idle)
	h = &synthHand{rng: rand.New(rand.NewPCG(seed, 3)), presses: presses, forgets: 0.05, press: math.Inf(1)}
	var acted advice.Advice
	for s.now < 1500 && st.Step != StepAllSet {
		p := s.span(&moved)
		is := idle.Push(p)
		st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
		checkTold(t, &st, out)
		h.see(s.now, &st, trim, &moved)
		if a := st.Advice; a.Part == advice.ThrottleStop && a.Kind == advice.Turn && a.Direction != acted.Direction {
			s.stop += a.SignedTurns()
			acted = a
		} else if a.Kind != advice.Turn {
			acted = advice.Advice{}
		}
	}
	return s, st, h, moved
}

// checkTold holds a state against what no state may tell.
func checkTold(t *testing.T, st *TrimState, out []float64) {
	t.Helper()
	for i := range st.Cylinders {
		p := &st.Pilots[i]
		if steps := p.Moved * 16; steps != math.Round(steps) {
			t.Fatalf("cylinder %d told %v: no whole sixteenths", i+1, p.Moved)
		}
		if o := out[i] + p.Moved; o < leastOut || o > mostOut || p.Out != o {
			t.Fatalf("cylinder %d told %v turns out", i+1, o)
		}
	}
	a := &st.Advice
	if a.Kind == advice.Turn && (a.Part == advice.NoPart || !(a.Turns >= 0) ||
		a.Turns > 0 && a.Direction == advice.UnknownWay ||
		(a.Part == advice.PilotScrew) != (a.Cylinder > 0)) {
		t.Fatalf("told %+v", a)
	}
	if a.Kind == advice.Turn && a.Part == advice.PilotScrew && a.Turns > 0 &&
		st.Richer != (a.Direction == advice.Anticlockwise) {
		t.Fatalf("a fuel screw, %s: richer %v", a.Direction, st.Richer)
	}
	if st.Far() && a.ToTurn(advice.PilotScrew) && a.Why != advice.WhyFurther && a.Why != advice.WhySet &&
		a.Why != advice.WhyTurned && a.Why != advice.WhyBack {
		t.Fatalf("to %+.3f, without a reason: %+v", st.Goal, a)
	}
	if st.NPoints > MaxPoints || st.LeftS < 0 {
		t.Fatalf("%+v", st)
	}
}
