package balance

import (
	"gonum.org/v1/gonum/mat"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// perCylinder and perScrew hold a figure for each, by cylinder - 1 and by index of the screw.
type (
	perCylinder [cycle.MaxCylinders]float64
	perScrew    [bank.MaxCylinders]float64
)

// linkage solves which screw must change the draw of its cylinders by how much.
type linkage struct {
	n      int
	screws int
	// moves tells, by cylinder, which screws move it, as bits.
	moves [bank.MaxCylinders]uint
	// columns are by how much each screw moves the draws of all cylinders, as shares of what it moves its own: first
	// what moves says, less the mean, and then as learned; weights is how much that counts, kPa².
	columns [bank.MaxCylinders]perCylinder
	weights perScrew
	// inverse is that of the matrix [columns | 1], by screw and cylinder.
	inverse [bank.MaxCylinders][bank.MaxCylinders]float64
}

// newLinkage returns the solver of a checked bank. ok is false when its screws can't level it.
func newLinkage(b *bank.Bank) (l linkage, ok bool) {
	n := b.Cylinders
	l = linkage{n: n, screws: len(b.Screws)}
	if l.screws != n-1 || n < 2 {
		return l, false
	}
	for s := range b.Screws {
		mean := float64(len(b.Screws[s].Moves)) / float64(n)
		l.weights[s] = columnPrior * columnPrior
		for c := range n {
			l.columns[s][c] = -mean
			if b.Moves(s, c+1) {
				l.columns[s][c] += 1
				l.moves[c] |= 1 << s
			}
		}
	}
	return l, l.invert()
}

// invert solves the linkage anew; ok is false, and nothing changed, where it is singular.
func (l *linkage) invert() (ok bool) {
	m := mat.NewDense(l.n, l.n, nil)
	for c := range l.n {
		for s := range l.screws {
			m.Set(c, s, l.columns[s][c])
		}
		m.Set(c, l.n-1, 1)
	}
	var inverse mat.Dense
	if inverse.Inverse(m) != nil {
		return false
	}
	for s := range l.screws {
		for c := range l.n {
			l.inverse[s][c] = inverse.At(s, c)
		}
	}
	return true
}

// wanted returns, by screw, the change in draw of the cylinders that it moves
// which would make all draws level. A common part in draws changes nothing.
func (l *linkage) wanted(draw *perCylinder) (x perScrew) {
	for s := range l.screws {
		for c := range l.n {
			x[s] -= l.inverse[s][c] * draw[c]
		}
	}
	return x
}
