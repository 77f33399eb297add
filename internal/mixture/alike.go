package mixture

import (
	"math"

	"evendraw/internal/bank"
)

// Beliefs about the laws of one engine's cylinders, which burn the same fuel in chambers of the same form. All are
// chosen.
const (
	// likelyEven is how likely an engine's laws are even, as steep to one side as to the other.
	likelyEven = 0.6
	// anyLaw is the share of the belief that is left to a cylinder whose law is of the other kind, even or not.
	anyLaw = 0.05
	// otherSkew is how little, in weight, a cylinder's skew is believed to be that next to another's in the same
	// engine, otherGrow the same of its grow.
	otherSkew, otherGrow = 2.0, 1.0
)

// sizeBelief is what is believed of sizes: the likeliest of an engine, and the standard deviations of the logarithms of
// an engine's, and of a cylinder's about that.
type sizeBelief struct{ likely, spread, own float64 }

// evenSizes are those of even laws, otherSizes of others. Chosen: an even law is that of cylinders which are alike.
var evenSizes, otherSizes = sizeBelief{1, 0.5, 0.2}, sizeBelief{0.5, 1, 0.5}

// sizesOf is what is believed of the sizes of a shape.
func sizesOf(shape int) *sizeBelief {
	if even(shape) {
		return &evenSizes
	}
	return &otherSizes
}

// chance is how likely a size is where another is the likeliest, by its logarithm's standard deviation.
func chance(size, likely, spread float64) float64 {
	z := math.Log(size/likely) / spread
	return math.Exp(-z * z / 2)
}

// table is a weight for each law, by shape (first those that are richer outwards, then skew and grow) and size.
type table [nShapes][len(sizes)]float64

// scale makes the largest weight 1.
func (t *table) scale() {
	most := 0.0
	for i := range t {
		for _, w := range t[i] {
			most = max(most, w)
		}
	}
	for i := range t {
		for j := range t[i] {
			t[i][j] /= most
		}
	}
}

// even reports whether a shape is as steep to one side as to the other.
func even(shape int) bool { return shape%(nShapes/2) == 0 }

// kind is 0 of an even shape, else 1.
func kind(shape int) int {
	if even(shape) {
		return 0
	}
	return 1
}

// alikeShape and alikeSize are how likely a cylinder of an engine of one law has
// another: by shape, and by kind and size.
var alikeShape, alikeSize = func() (k [nShapes][nShapes]float64, z [2][len(sizes)][len(sizes)]float64) {
	for i := range k {
		sum := 0.0
		for j := range k {
			if even(i) || even(j) || richOf(i) != richOf(j) {
				continue
			}
			skew, grow := float64(j/len(grows)-i/len(grows)), float64(j%len(grows)-i%len(grows))
			k[i][j] = 1 / (1 + otherSkew*skew*skew) / (1 + otherGrow*grow*grow)
			sum += k[i][j]
		}
		for j := range k {
			switch {
			case richOf(i) != richOf(j):
			case even(i) && even(j):
				k[i][j] = 1 - anyLaw
			case even(i):
				k[i][j] = anyLaw / float64(nShapes/2-1)
			case even(j):
				k[i][j] = anyLaw
			default:
				k[i][j] *= (1 - anyLaw) / sum
			}
		}
	}
	for n, own := range []float64{evenSizes.own, otherSizes.own} {
		for i := range sizes {
			sum := 0.0
			for j := range sizes {
				z[n][i][j] = chance(sizes[j], sizes[i], own)
				sum += z[n][i][j]
			}
			for j := range sizes {
				z[n][i][j] /= sum
			}
		}
	}
	return k, z
}()

// shapes is how likely each law is.
type shapes struct {
	begun bool
	// base is what is believed of any engine's, told what each cylinder's looks tell of its engine's.
	base table
	told [bank.MaxCylinders]*table
}

// begin takes what is believed of any engine; rich is +1 where richer is outwards, -1 inwards, 0 unknown.
func (s *shapes) begin(rich float64) {
	s.begun = true
	for i := range s.base {
		for j, size := range sizes {
			if richOf(i)*rich < 0 {
				continue
			}
			b := sizesOf(i)
			if s.base[i][j] = chance(size, b.likely, b.spread) / b.spread; even(i) {
				s.base[i][j] *= likelyEven
			} else {
				s.base[i][j] *= (1 - likelyEven) / float64(nShapes/2-1)
			}
		}
	}
}

// richOf is +1 where the shape is one of a screw that is richer outwards, else -1.
func richOf(shape int) float64 {
	if shape < nShapes/2 {
		return 1
	}
	return -1
}

// of is how likely a law is for a cylinder by what all others told.
func (s *shapes) of(cylinder int) (l table) {
	engine := s.base
	for c, told := range s.told {
		if told == nil || c == cylinder-1 {
			continue
		}
		for i := range engine {
			for j := range engine[i] {
				engine[i][j] *= told[i][j]
			}
		}
		engine.scale()
	}
	var sized table
	for i := range engine {
		for j, w := range engine[i] {
			for k := range sizes {
				sized[i][k] += w * alikeSize[kind(i)][j][k]
			}
		}
	}
	for i := range sized {
		for k := range l {
			for j, w := range sized[i] {
				l[k][j] += w * alikeShape[i][k]
			}
		}
	}
	l.scale()
	return l
}

// learn takes what a cylinder's looks tell.
func (s *shapes) learn(cylinder int, e *estimate) {
	var own, sized table
	for i := range e.cells {
		c := &e.cells[i]
		own[c.shape][c.size] += c.weight / e.prior[c.shape][c.size]
	}
	for i := range own {
		for j := range sizes {
			for k, w := range own[i] {
				sized[i][j] += w * alikeSize[kind(i)][j][k]
			}
		}
	}
	told := &table{}
	for i := range told {
		for k := range sized {
			for j, w := range sized[k] {
				told[i][j] += w * alikeShape[i][k]
			}
		}
	}
	told.scale()
	s.told[cylinder-1] = told
}

// reweigh weighs the laws of a cylinder that was trimmed by what all others have told since.
func (e *estimate) reweigh(prior *table, lowOut, highOut float64) {
	sum := 0.0
	for i := range e.cells {
		c := &e.cells[i]
		c.weight *= prior[c.shape][c.size] / e.prior[c.shape][c.size]
		sum += c.weight
	}
	for i := range e.cells {
		e.cells[i].weight /= sum
	}
	e.prior = *prior
	e.peaks(lowOut, highOut)
	e.known = e.known || 1.96*e.sd <= mostDoubt
}
