package mixture

import (
	"math"
	"math/rand/v2"
	"slices"
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

// mean is what loss is on average.
func (c *carb) mean(moved float64) float64 {
	lambda := 1 / max(c.jet+c.flow*c.opening(moved), 0.1)
	misses := 1 / (1 + math.Exp((c.limit-lambda)/missOver))
	d := lambda - lopsidedBest
	if d > 0 {
		d *= d * c.lean
	} else {
		d *= d * c.rich
	}
	return misses + (1-misses)*min(d, 1)
}

// lost is by how much slower the idle is as cylinder i + 1 does not stand at its best, rpm.
func (s *synthetic) lost(i int, moved float64) float64 {
	if s.carbs == nil {
		d := moved - s.best[i]
		return -s.bend * d * d
	}
	return s.base * lopsidedGain / 4 * s.carbs[i].mean(moved)
}

// newLopsided is an idle of such carburettors.
func newLopsided(seed uint64, out []float64) *synthetic {
	s := newSynthetic(seed)
	for i, b := range s.best {
		s.carbs = append(s.carbs, newCarb(s.rng, out[i], b))
	}
	return s
}

// outcome counts how trims of synthetic fours ended.
type outcome struct {
	fours, done, found, screws, peaks, false2, held, told, near, moves int
	seconds, loss                                                      float64
	off                                                                []float64
	ends                                                               map[Found]int
}

// add counts a four; moved is where its screws truly stand.
func (o *outcome) add(s *synthetic, st *TrimState, h *synthHand, moved *[4]float64) {
	o.fours++
	o.seconds += st.IdlingS
	o.moves += h.moves
	if st.Step == StepAllSet {
		o.done++
	}
	all := true
	for i := range 4 {
		p := &st.Pilots[i]
		o.screws++
		o.ends[p.Found]++
		off := math.Abs(p.Best - s.best[i])
		if p.Found == AtPeak {
			o.peaks++
			if off > 2*p.Uncertainty {
				o.false2++
			}
		}
		if !math.IsNaN(off) && (p.Found == AtPeak || p.Found == Unsure) {
			o.told++
			if off <= p.Uncertainty {
				o.held++
			}
		}
		stands := math.Abs(moved[i] - s.best[i])
		o.off = append(o.off, stands)
		if stands <= 0.125 {
			o.near++
		} else {
			all = false
		}
		o.loss += s.lost(i, moved[i])
	}
	if all {
		o.found++
	}
}

// log tells the figures.
func (o *outcome) log(t *testing.T) {
	slices.Sort(o.off)
	t.Logf("%d of %d fours and %.3f of screws within an eighth (95 %% within %.2f); %d of %d at peak, %d of them off "+
		"by more than 2 u; %d of %d intervals hold; %.0f s, %.1f moves, %.1f rpm a screw lost; %v", o.found, o.fours,
		float64(o.near)/float64(o.screws), o.off[len(o.off)*95/100], o.peaks, o.screws, o.false2, o.held, o.told,
		o.seconds/float64(o.fours), float64(o.moves)/float64(o.fours), o.loss/float64(o.screws), o.ends)
}

// Even laws and steep-sided ones, sound idles and lumpy ones: what is told holds on all, and the screws are found.
func TestTrimOfAnyLaw(t *testing.T) {
	for _, c := range []struct {
		name        string
		lopsided    bool
		presses     bool
		rough       float64
		plain, full int
		near, peaks float64 // least shares: of screws within an eighth, at their peak
		seconds     float64 // most
	}{
		{"even", false, true, 1, 4, 60, 0.93, 0.9, 225},
		{"even, presses nothing", false, false, 1, 3, 60, 0.9, 0.85, 300},
		{"even, lumpy", false, true, 3, 3, 60, 0.75, 0.4, 330},
		{"lopsided", true, true, 1, 3, 60, 0.36, 0, 310},
		{"lopsided, lumpy", true, true, 3, 2, 60, 0.3, 0, 390},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := outcome{ends: map[Found]int{}}
			for seed := range uint64(effort.Of(c.plain, c.full)) {
				s := newSynthetic(seed)
				if c.lopsided {
					s = newLopsided(seed, synthOut)
				}
				s.scatter *= c.rough
				_, st, h, moved := trimSynth(t, s, seed, c.presses)
				o.add(s, &st, h, &moved)
			}
			o.log(t)
			share := func(n int) float64 { return float64(n) / float64(o.screws) }
			slack := effort.Of(0.12, 0) // few screws count roughly
			const held95 = 0.92         // 95 %, less two deviations of counting in a full run
			switch {
			case o.done < o.fours:
				t.Errorf("%d of %d fours came to the end", o.done, o.fours)
			case float64(o.held) < held95*float64(o.told)-1, 50*o.false2 > o.peaks:
				t.Error("what is told does not hold")
			case share(o.near) < c.near-slack, share(o.peaks) < c.peaks-slack, 10*o.told < 8*o.screws:
				t.Error("too few found")
			case o.seconds > c.seconds*float64(o.fours):
				t.Error("too long")
			}
		})
	}
}
