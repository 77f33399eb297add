package balance

import (
	"gonum.org/v1/gonum/mat"

	"evendraw/internal/bank"
)

// linkage solves which screw must change the draw of its cylinders by how much.
type linkage struct {
	n       int
	screws  int
	inverse *mat.Dense // of [moves | 1]
}

// newLinkage returns the solver of a checked bank. ok is false when its screws
// can't level it.
func newLinkage(b *bank.Bank) (l linkage, ok bool) {
	n := b.Cylinders
	l = linkage{n: n, screws: len(b.Screws)}
	if l.screws != n-1 || n < 2 {
		return l, false
	}
	m := mat.NewDense(n, n, nil)
	for c := range n {
		for s := range b.Screws {
			if b.Moves(s, c+1) {
				m.Set(c, s, 1)
			}
		}
		m.Set(c, n-1, 1)
	}
	l.inverse = mat.NewDense(n, n, nil)
	return l, l.inverse.Inverse(m) == nil
}

// wanted returns, by screw, the change in draw of the cylinders that it moves
// which would make all draws level. A common part in draws changes nothing.
func (l *linkage) wanted(draw func(c int) float64) (x [bank.MaxCylinders]float64) {
	for s := range l.screws {
		for c := range l.n {
			x[s] -= l.inverse.At(s, c) * draw(c)
		}
	}
	return x
}
