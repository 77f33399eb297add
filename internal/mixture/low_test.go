package mixture

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
	"evendraw/internal/heat"
)

// trimLow trims a four whose screws stand 1 to 1.4 turns out, and returns how far out one came least.
func trimLow(seed uint64, lopsided bool) (s *synthetic, st TrimState, h *synthHand, moved [4]float64, least float64) {
	rng := rand.New(rand.NewPCG(seed, 77))
	out := make([]float64, 4)
	s, least = newSynthetic(seed), math.Inf(1)
	for i := range out {
		out[i] = math.Round(8*(1+0.4*rng.Float64())) / 8
		s.best[i] = max(s.best[i], leastOut+1.0/8-out[i])
	}
	for i := range out {
		if lopsided {
			s.carbs = append(s.carbs, newCarb(s.rng, out[i], s.best[i]))
		}
	}
	idle := NewIdleSpeed(IdleConfig{})
	trim := NewTrim(TrimConfig{Cylinders: 4, Screws: FuelScrews, TurnsOut: out}, idle)
	h = &synthHand{rng: rand.New(rand.NewPCG(seed, 3)), presses: true, forgets: 0.05, press: math.Inf(1)}
	var acted advice.Advice
	for s.now < 1500 && st.Step != StepAllSet {
		p := s.span(&moved)
		is := idle.Push(p)
		st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
		h.see(s.now, &st, trim, &moved)
		for i := range out {
			least = min(least, out[i]+moved[i])
		}
		if a := st.Advice; a.ToTurn(advice.ThrottleStop) && a.Direction != acted.Direction {
			s.stop += a.SignedTurns()
			acted = a
		} else if a.Kind != advice.Turn {
			acted = advice.Advice{}
		}
	}
	return s, st, h, moved, least
}

// Screws that stand little out have hardly a way in beside turns out that no speed has borne out. They are found all
// the same, and none comes nearer to its seat than a quarter of a turn, but for the hand's own slip.
func TestScrewsThatStandLittleOut(t *testing.T) {
	for _, c := range []struct {
		lopsided bool
		near     float64
	}{{false, 0.85}, {true, 0.45}} {
		o := outcome{ends: map[Found]int{}}
		for seed := range uint64(effort.Of(2, 40)) {
			s, st, h, moved, least := trimLow(seed, c.lopsided)
			o.add(s, &st, h, &moved)
			if least < leastOut-1.0/16 {
				t.Errorf("seed %d: %.2f turns off its seat", seed, least)
			}
		}
		o.log(t)
		if near := float64(o.near) / float64(o.screws); near < c.near-effort.Of(0.2, 0) ||
			float64(o.held) < 0.92*float64(o.told)-1 {
			t.Errorf("lopsided %v: %.2f within an eighth, %d of %d hold", c.lopsided, near, o.held, o.told)
		}
	}
}
