package mixture

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
)

// synthetic is an idle of known law: a parabola for each pilot screw, a drift, and a
// second-order autoregressive scatter.
type synthetic struct {
	rng            *rand.Rand
	best           []float64 // moved, where each is highest
	bend           float64   // rpm/turn²
	q, f, scatter  float64
	drift          float64 // rpm/s
	now            float64
	rpm, last      float64
	stop, base     float64
	stopRPMPerTurn float64
}

func newSynthetic(seed uint64) *synthetic {
	rng := rand.New(rand.NewPCG(seed, 9))
	s := &synthetic{rng: rng, bend: -80 - 20*rng.Float64(), q: 0.075 + 0.02*rng.Float64(), f: 0.2 + 0.07*rng.Float64(),
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
		end += s.bend * (moved[i] - b) * (moved[i] - b)
	}
	next := s.rpm + s.q*(end-s.rpm) + s.f*(s.rpm-s.last) + s.scatter*s.rng.NormFloat64()
	s.last, s.rpm = s.rpm, next
	p := &cycle.Span{Start: s.now, Period: 120 / next, Cycle: true, N: 4}
	s.now += p.Period
	return p
}

// Fours of known law: peaks found within an eighth in 95 %, stated intervals hold the
// truth, and what is told keeps its bounds at every cycle: whole steps, within the
// travel, a direction with every turn.
func TestTrimOfKnownLaw(t *testing.T) {
	fours := effort.Of(12, 60)
	found, held, screws, seconds := 0, 0, 0, 0.0
	for seed := range uint64(fours) {
		s := newSynthetic(seed)
		idle := NewIdleSpeed(IdleConfig{})
		out := []float64{2, 1.75, 2.125, 2.25}
		trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: out}, idle)
		var moved, hand [4]float64
		due, at := math.Inf(1), 0
		var st TrimState
		var acted advice.Advice
		for s.now < 1500 && st.Step != StepAllSet {
			p := s.span(&moved)
			is := idle.Push(p)
			st = trim.Push(p, &is, math.NaN())
			checkTold(t, &st, out)
			for i := range hand {
				if m := st.Pilots[i].Moved; m != hand[i] {
					hand[i], due, at = m, s.now+2.5+2*math.Abs(m-moved[i]), i
				}
			}
			if s.now >= due {
				moved[at], due = hand[at], math.Inf(1)
			}
			if a := st.Advice; a.Part == advice.ThrottleStop && a.Kind == advice.Turn &&
				a.Direction != acted.Direction {
				s.stop += a.SignedTurns()
				acted = a
			} else if a.Kind != advice.Turn {
				acted = advice.Advice{}
			}
		}
		all := st.Step == StepAllSet
		for i := range 4 {
			p := &st.Pilots[i]
			screws++
			if math.Abs(p.Best-s.best[i]) <= p.Uncertainty {
				held++
			}
			all = all && math.Abs(p.Moved-s.best[i]) <= 0.125
		}
		if all {
			found++
		}
		seconds += st.IdlingS / float64(fours)
	}
	t.Logf("%d of %d fours within an eighth, %.1f %% of the intervals hold the best, %.0f s",
		found, fours, 100*float64(held)/float64(screws), seconds)
	if found < fours*9/10 || held < screws*91/100 { // 95 %, less two deviations of counting
		t.Errorf("%d of %d fours, %d of %d intervals", found, fours, held, screws)
	}
}

// checkTold holds a state against what no state may tell.
func checkTold(t *testing.T, st *TrimState, out []float64) {
	t.Helper()
	for i := range st.Cylinders {
		p := &st.Pilots[i]
		if steps := p.Moved * 8; steps != math.Round(steps) {
			t.Fatalf("cylinder %d told %v: no whole eighths", i+1, p.Moved)
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
	if st.NPoints > MaxPoints || st.LeftS < 0 {
		t.Fatalf("%+v", st)
	}
}
