package linkage

import (
	"math"
	"math/bits"

	"evendraw/internal/series"
)

// SpreadLeft returns the spread that is left when the screws of a set, as bits, have
// brought about what is wanted of them.
func (l *Linkage) SpreadLeft(x *PerScrew, set uint) float64 {
	least, most := math.Inf(1), math.Inf(-1)
	for c := range l.n {
		draw := 0.0
		for s := range l.screws {
			if set>>s&1 == 0 {
				draw -= l.columns[s][c] * x[s]
			}
		}
		least, most = min(least, draw), max(most, draw)
	}
	return most - least
}

// FewestScrews returns the smallest set of screws, as bits, that leaves a spread within target; of
// sets of one size the one that leaves least. Only screws of may, as bits, are taken. Where no set
// is enough ok is false, and the set is the one that leaves least.
func (l *Linkage) FewestScrews(x *PerScrew, target float64, may uint) (set uint, ok bool) {
	best := math.Inf(1)
	size := l.screws + 1
	var least uint
	leastLeft := math.Inf(1)
	for s := range uint(1) << l.screws {
		if s&^may != 0 {
			continue
		}
		left := l.SpreadLeft(x, s)
		if left < leastLeft {
			least, leastLeft = s, left
		}
		n := bits.OnesCount(s)
		if left <= target && (n < size || n == size && left < best) {
			set, size, best, ok = s, n, left, true
		}
	}
	if !ok {
		set = least
	}
	return set, ok
}

// Of a screw's way to its goal so many steps are looked at, and the spread must grow by leastGrowth, kPa, to be told.
// Chosen.
const (
	waySteps    = 8
	leastGrowth = 0.3
)

// A screw whose way to its goal would have the spread grow by more than MuchGrowth, kPa, and muchShare of itself waits
// for others. Chosen, by trial: it grows by up to twice that in the end, as a cylinder draws more and more when shut.
const (
	MuchGrowth = 1.25
	muchShare  = 1.0 / 4
)

// GrowsMuch reports whether the spread would be much larger once screw s has brought about what is wanted of it: it
// takes a cylinder along then that another screw is to move the other way.
func (l *Linkage) GrowsMuch(s int, x *PerScrew) bool {
	before, after := l.SpreadLeft(x, 0), l.SpreadLeft(x, 1<<s)
	return after > before+MuchGrowth && after > (1+muchShare)*before
}

// ComesLast returns the cylinder, from 1, that is off the others when screw s has come to its goal, where the spread is
// larger then than it was on the way; else 0.
func (l *Linkage) ComesLast(s int, x *PerScrew, goal float64) int {
	least, end := math.Inf(1), 0.0
	left := *x
	for k := range waySteps + 1 {
		left[s] = x[s] + (goal-x[s])*float64(k)/waySteps
		end = l.SpreadLeft(&left, 0)
		least = min(least, end)
	}
	if end < least+leastGrowth {
		return 0
	}
	var draw PerCylinder
	for c := range l.n {
		for o := range l.screws {
			draw[c] -= l.columns[o][c] * left[o]
		}
	}
	sorted := draw
	mid, last := series.Median(sorted[:l.n]), 0
	for c := range l.n {
		if math.Abs(draw[c]-mid) > math.Abs(draw[last]-mid) {
			last = c
		}
	}
	return last + 1
}

// middleStep is how finely the middle is looked for, kPa.
const middleStep = 0.02

// Middle returns what is best left wanted of screw s when the others of a set, as bits, have brought about what is
// Wanted of them: the middle of what leaves a spread within target, or of what leaves least.
func (l *Linkage) Middle(s int, x *PerScrew, set uint, target float64) float64 {
	left := *x
	spread := func(step int) float64 {
		left[s] = float64(step) * middleStep
		return l.SpreadLeft(&left, set&^(1<<s))
	}
	most := int(target / middleStep)
	least := math.Inf(1)
	for step := -most; step <= most; step++ {
		least = min(least, spread(step))
	}
	sum, n := 0, 0
	for step := -most; step <= most; step++ {
		if spread(step) <= max(target, least)+1e-9 {
			sum += step
			n++
		}
	}
	return middleStep * float64(sum) / float64(n)
}
