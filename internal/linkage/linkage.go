// Package linkage solves which screw of a bank must change the draw of its cylinders by how much, and looks for the
// fewest screws that level it. It learns how each screw moves all cylinders, as where passages join their runners.
//
// The equation stands in package balance, which is what uses it. Begin with New.
package linkage

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// PerCylinder and PerScrew hold a figure for each, by cylinder - 1 and by index of the screw.
type (
	PerCylinder [cycle.MaxCylinders]float64
	PerScrew    [bank.MaxCylinders]float64
)

// columnPrior is how much of a movement, kPa, counts as much as what the linkage says of how a screw moves the
// cylinders. Chosen.
const columnPrior = 2.5

// Linkage solves which screw must change the draw of its cylinders by how much.
type Linkage struct {
	n      int
	screws int
	// moves tells, by cylinder, which screws move it, as bits.
	moves [bank.MaxCylinders]uint
	// columns are by how much each screw moves the draws of all cylinders, as shares of what it moves its own: first
	// what moves says, less the mean, and then as learned; weights is how much that counts, kPa².
	columns [bank.MaxCylinders]PerCylinder
	weights PerScrew
	// inverse is that of the matrix [columns | 1], by screw and cylinder.
	inverse [bank.MaxCylinders][bank.MaxCylinders]float64
}

// New returns the solver of a checked bank. ok is false when its screws can't level it.
func New(b *bank.Bank) (l Linkage, ok bool) {
	n := b.Cylinders
	l = Linkage{n: n, screws: len(b.Screws)}
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
func (l *Linkage) invert() (ok bool) {
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

// Wanted returns, by screw, the change in draw of the cylinders that it moves
// which would make all draws level. A common part in draws changes nothing.
func (l *Linkage) Wanted(draw *PerCylinder) (x PerScrew) {
	for s := range l.screws {
		for c := range l.n {
			x[s] -= l.inverse[s][c] * draw[c]
		}
	}
	return x
}

// Screws is how many there are.
func (l *Linkage) Screws() int { return l.screws }

// Variance returns the variance of what is wanted of screw s, by those of the draws, kPa².
func (l *Linkage) Variance(s int, draws *PerCylinder) (v float64) {
	for c := range l.n {
		v += l.inverse[s][c] * l.inverse[s][c] * draws[c]
	}
	return v
}

// Along returns by how much screw s must move its cylinders to change all draws as nearly so as it can, kPa.
func (l *Linkage) Along(s int, change *PerCylinder) float64 {
	column := &l.columns[s]
	return dot(change, column, l.n) / dot(column, column, l.n)
}

// Moved returns by how much screw s has moved its cylinders from some draws to others, kPa, and by what share of it the
// movement is off what that screw does to all cylinders.
func (l *Linkage) Moved(s int, from, to *PerCylinder) (kpa, misfit float64) {
	var d PerCylinder
	for c := range l.n {
		d[c] = to[c] - from[c]
	}
	kpa = l.Along(s, &d)
	column, off := &l.columns[s], 0.0
	for c := range l.n {
		off += (d[c] - kpa*column[c]) * (d[c] - kpa*column[c])
	}
	return kpa, math.Sqrt(off / max(kpa*kpa*dot(column, column, l.n), 1e-12))
}

// Learn learns from a movement of screw s alone, by so many kPa, how it moves all cylinders: passages that join the
// runners have it move them all. It reports whether what is wanted is to be reckoned anew by that.
func (l *Linkage) Learn(s int, kpa float64, from, to *PerCylinder) (ok bool) {
	before := l.weights[s]
	l.weights[s] += kpa * kpa
	for c := range l.n {
		seen := (to[c] - from[c]) / kpa
		l.columns[s][c] = (before*l.columns[s][c] + kpa*kpa*seen) / l.weights[s]
	}
	return l.invert()
}

func dot(a, b *PerCylinder, n int) (sum float64) {
	for c := range n {
		sum += a[c] * b[c]
	}
	return sum
}
