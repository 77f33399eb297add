package balance

import (
	"math"
	"math/bits"
)

// spreadLeft returns the spread that is left when the screws of a set, as bits, have
// brought about what is wanted of them.
func (l *linkage) spreadLeft(x *perScrew, set uint) float64 {
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

// fewestScrews returns the smallest set of screws, as bits, that leaves a spread within target; of
// sets of one size the one that leaves least. Only screws of may, as bits, are taken. Where no set
// is enough ok is false, and the set is the one that leaves least.
func (l *linkage) fewestScrews(x *perScrew, target float64, may uint) (set uint, ok bool) {
	best := math.Inf(1)
	size := l.screws + 1
	var least uint
	leastLeft := math.Inf(1)
	for s := range uint(1) << l.screws {
		if s&^may != 0 {
			continue
		}
		left := l.spreadLeft(x, s)
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

// middleStep is how finely the middle is looked for, kPa.
const middleStep = 0.02

// middle returns what is best left wanted of screw s when the others of a set, as bits, have brought about what is
// wanted of them: the middle of what leaves a spread within target, or of what leaves least.
func (l *linkage) middle(s int, x *perScrew, set uint, target float64) float64 {
	left := *x
	spread := func(step int) float64 {
		left[s] = float64(step) * middleStep
		return l.spreadLeft(&left, set&^(1<<s))
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
