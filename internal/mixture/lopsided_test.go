package mixture

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
)

// Torque of a charge against lambda, from memory of published curves (common knowledge of combustion): highest near
// 0.92, 1 to 2 % less at 0.8, some 5 % at 1.05, 15 to 30 % at 1.2, beyond which it misfires more and more.
const (
	lopsidedBest = 0.92
	missOver     = 0.02 // width of the lean limit, lambda
)

// carb is one carburettor of an engine whose speed falls steeply to the lean side of its best, and hardly to the rich.
type carb struct {
	out               float64 // turns out where it stands at first
	needle, flow, jet float64 // fuel over air, stoichiometric 1: jet + flow times the needle's opening, of needle turns
	rich, lean, limit float64
}

// opening is that of a needle before a fixed jet: closed a quarter turn out, and saturating.
func (c *carb) opening(moved float64) float64 {
	s := max(c.out+moved-0.25, 0) / c.needle
	return s / math.Sqrt(1+s*s)
}

// newCarb is one that is best at a setting.
func newCarb(rng *rand.Rand, out, best float64) *carb {
	c := &carb{out: out, needle: 1 + rng.Float64(), rich: 0.7 + 0.7*rng.Float64(), lean: 2.4 + 1.2*rng.Float64(),
		limit: 1.22 + 0.04*rng.Float64()}
	const h = 0.01
	perTurn := 0.14 + 0.12*rng.Float64()
	c.flow = perTurn * 2 * h / (c.opening(best+h) - c.opening(best-h))
	c.jet = 1/lopsidedBest - c.flow*c.opening(best)
	return c
}

// loss is which share of the best torque a cycle lacks.
func (c *carb) loss(rng *rand.Rand, moved float64) float64 {
	lambda := 1 / max(c.jet+c.flow*c.opening(moved), 0.1)
	if rng.Float64() < 1/(1+math.Exp((c.limit-lambda)/missOver)) {
		return 1
	}
	if d := lambda - lopsidedBest; d > 0 {
		return min(c.lean*d*d, 1)
	} else {
		return min(c.rich*d*d, 1)
	}
}

// newLopsided is an idle of such carburettors.
func newLopsided(seed uint64, out []float64) *synthetic {
	s := newSynthetic(seed)
	for i, b := range s.best {
		s.carbs = append(s.carbs, newCarb(s.rng, out[i], b))
	}
	return s
}

// On an engine whose speed is nearly flat to the rich side and falls off to the lean, what is told as sure holds.
func TestTrimOfALopsidedLaw(t *testing.T) {
	fours := effort.Of(6, 40)
	screws, peaks, false2, held, told, near, done := 0, 0, 0, 0, 0, 0, 0
	seconds, moves, loss := 0.0, 0, 0.0
	ends := map[Found]int{}
	for seed := range uint64(fours) {
		s := newLopsided(seed, synthOut)
		_, st, h, moved := trimSynth(t, s, seed, true)
		if st.Step == StepAllSet {
			done++
		}
		seconds += st.IdlingS / float64(fours)
		moves += h.moves
		for i := range 4 {
			p := &st.Pilots[i]
			screws++
			ends[p.Found]++
			off := math.Abs(p.Best - s.best[i])
			if p.Found == AtPeak {
				peaks++
				if off > 2*p.Uncertainty {
					false2++
				}
			}
			if !math.IsNaN(off) && (p.Found == AtPeak || p.Found == Unsure) {
				told++
				if off <= p.Uncertainty {
					held++
				}
			}
			if math.Abs(moved[i]-s.best[i]) <= 0.125 {
				near++
			}
			was := s.carbs[i].loss(s.rng, moved[i])
			loss += was / 4 * s.base * lopsidedGain
		}
	}
	t.Logf("%d fours: %d of %d at peak, %d of them off by more than 2 u; %d of %d intervals hold; %d screws within "+
		"an eighth; %.0f s, %.1f moves, %.1f rpm a screw lost; %v", fours, peaks, screws, false2, held, told, near,
		seconds, float64(moves)/float64(fours), loss/float64(screws), ends)
	const held95 = 0.91 // 95 %, less two deviations of counting
	switch {
	case done < fours:
		t.Errorf("%d of %d fours came to the end", done, fours)
	case 50*false2 > peaks, float64(held) < held95*float64(told)-1:
		t.Error("what is told as sure does not hold")
	case 4*near < screws, 8*ends[Silent] > screws, 10*told < 7*screws:
		t.Error("too few found")
	}
}
