package balance

import (
	"gonum.org/v1/gonum/mat"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// perCylinder and perScrew hold a figure for each, by cylinder - 1 and by index
// of the screw.
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
	// inverse is that of the matrix [moves | 1], by screw and cylinder.
	inverse [bank.MaxCylinders][bank.MaxCylinders]float64
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
				l.moves[c] |= 1 << s
			}
		}
		m.Set(c, n-1, 1)
	}
	var inverse mat.Dense
	if inverse.Inverse(m) != nil {
		return l, false
	}
	for s := range l.screws {
		for c := range n {
			l.inverse[s][c] = inverse.At(s, c)
		}
	}
	return l, true
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
