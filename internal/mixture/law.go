package mixture

import "math"

// The law of the settled speed at a setting u, d turns richer than the best, p:
//
//	rpm = top - size·fall(d),  fall = d²/skew/(1 + grow d) richer, skew d² (1 + grow |d|) leaner
//
// size in units of a sound cylinder's fall a turn off (usualBend). A charge's torque falls off slowly to the rich side
// of its best and steeply to the lean one (from memory of published curves), and a needle before a fixed jet gives less
// and less a turn: skew and grow tell how much of both there is. What is sought is p; top, size, skew and grow are not
// known, and of how likely each is every setting tells a little.
var (
	skews = [...]float64{1, 1.5, 2.2, 3.2}
	grows = [...]float64{0, 0.6}
	sizes = [...]float64{0.05, 0.08, 0.12, 0.18, 0.27, 0.4, 0.6, 0.9, 1.35, 2, 3}
)

// Beliefs about the law. All are chosen.
const (
	nShapes = 2 * len(skews) * len(grows)
	// likelySize is the size believed most likely, and sizeSpread the standard deviation of its logarithm.
	likelySize, sizeSpread = 0.5, 1.0
	// likelyEven is how little a law is believed that is steeper to one side: skew to the power of -likelyEven.
	likelyEven = 2.0
	// otherSkew is how little, in weight, a cylinder's skew is believed to be that next to another's in the same
	// engine, anyCylinder the share of the belief that is left to what no cylinder before told.
	otherSkew, anyCylinder = 10.0, 0.05
	// likelyOff is how far from where it stands a screw is as likely as not to be best, turns: a Cauchy distribution's
	// half-width, as some are far off.
	likelyOff = 0.75
	// peakStep is the step in which the best is sought, turns; beyond by how much outside the travel it may lie.
	peakStep, beyond = 1.0 / 20, 1.0
	// lawShare is by which share of its fall from the best a setting's speed may differ from the law: the more it has
	// fallen, the less it tells. Setting a screw to a thirty-second is in it.
	lawShare = 0.08
	// fallShare, over the number of cylinders, is the share of the speed by which it falls where a cylinder no longer
	// burns as it should: a third of its torque is missing. Such a setting tells on which side the best is not, and
	// nothing else. mostDrop bounds that: of few cylinders too the engine is not left to die.
	fallShare, mostDrop = 0.4, 0.2
	// farLeast is the least share of that which the law must let the speed fall by there, and farDoubt the standard
	// deviation of it: what misfires is in the fall that was seen, and not in the law's.
	farLeast, farDoubt = 0.8, 0.2
	// mostFall, over the number of cylinders, is the share of the speed by which it may be expected to fall at a
	// setting that is looked at.
	mostFall = 0.28
	// likelyCell is the share of the likeliest beneath which a cell is left out.
	likelyCell = 1e-4
	// soundSize is the least size of a cylinder that answers.
	soundSize = 0.15
)

// shapes is how likely each law is: by direction of richer (first all outwards), skew and grow, and by size.
type shapes struct {
	begun      bool
	base, seen [nShapes][len(sizes)]float64
}

// begin takes what is believed of any engine; rich is +1 where richer is outwards, -1 inwards, 0 unknown.
func (s *shapes) begin(rich float64) {
	s.begun = true
	sum := 0.0
	for i := range s.base {
		for j, size := range sizes {
			z, skew := math.Log(size/likelySize)/sizeSpread, skews[i%(nShapes/2)/len(grows)]
			if richOf(i)*rich >= 0 {
				s.base[i][j] = math.Exp(-z*z/2) / math.Pow(skew, likelyEven)
			}
			sum += s.base[i][j]
		}
	}
	for i := range s.base {
		for j := range sizes {
			s.base[i][j] /= sum
		}
	}
	s.seen = s.base
}

// richOf is +1 where the shape is one of a screw that is richer outwards, else -1.
func richOf(shape int) float64 {
	if shape < nShapes/2 {
		return 1
	}
	return -1
}

// of is how likely a law is for the next cylinder.
func (s *shapes) of(shape, size int) float64 {
	return (1-anyCylinder)*s.seen[shape][size] + anyCylinder*s.base[shape][size]
}

// logs returns the logarithms of of.
func (s *shapes) logs() (l [nShapes][len(sizes)]float64) {
	for i := range l {
		for j := range sizes {
			l[i][j] = math.Log(s.of(i, j))
		}
	}
	return l
}

// learn takes what a cylinder told; the next is much alike.
func (s *shapes) learn(e *estimate) {
	var told [nShapes][len(sizes)]float64
	for i := range e.cells {
		c := &e.cells[i]
		told[c.shape][c.size] += c.weight / s.of(c.shape, c.size)
	}
	sum := 0.0
	for i := range told {
		for j := range sizes {
			like := 0.0
			for di := -1; di <= 1; di++ { // the neighbours in skew, and in size
				for dj := -1; dj <= 1; dj++ {
					k, n := i+di*len(grows), j+dj
					if k < 0 || k >= nShapes || richOf(k) != richOf(i) || n < 0 || n >= len(sizes) {
						continue
					}
					like += told[k][n] / ((1 + otherSkew*float64(di*di)) * float64(1+dj*dj))
				}
			}
			s.seen[i][j] *= like
			sum += s.seen[i][j]
		}
	}
	for i := range s.seen {
		for j := range sizes {
			s.seen[i][j] /= sum
		}
	}
}

// fall is what a shape's speed falls by at u where it is best at p, of the size 1.
func fall(shape int, u, p float64) float64 {
	k := shape % (nShapes / 2)
	skew, grow := skews[k/len(grows)], grows[k%len(grows)]
	if d := (u - p) * richOf(shape); d > 0 {
		return d * d / skew / (1 + grow*d)
	} else {
		return skew * d * d * (1 - grow*d)
	}
}
