package balance

import "math"

// Constants of what counts as a turn of a screw.
const (
	// mostMisfitShare is the most that a movement may be off what the screw does to all
	// cylinders, as a share of it. Chosen: a neighbour's turn is off by more.
	mostMisfitShare = 0.5
	// speedPart is by how much what is wanted may change with the speed, or with the mean draw, as
	// a share of the spread, for a change by a factor e. Measured on the practice engine with a
	// hand on the throttle stop: up to 3.
	speedPart = 3.5
	// mostStep is the most that a hand moves a cylinder from one cycle to the next, kPa. Chosen: half
	// a turn a second of a screw of 24 kPa a turn, at 600 rpm, is 2.4.
	mostStep = 3.0
	// columnPrior is how much of a movement, kPa, counts as much as what the linkage says of how a
	// screw moves the cylinders. Chosen.
	columnPrior = 2.5
	// leastColumn is the least movement that tells how a screw moves the cylinders, kPa.
	leastColumn = 0.6
)

// state is how the bank stood when it was last at rest.
type state struct {
	wanted    perScrew
	level     perCylinder
	rpm, mean float64 // speed, and mean draw
}

// stateOver returns the state over cycles from to before to.
func (w *window) stateOver(from, to int) (s state) {
	s.level = w.meanLevel(from, to)
	s.wanted = w.link.wanted(&s.level)
	for k := from; k < to; k++ {
		s.rpm += w.at(k).rpm / float64(to-from)
		s.mean += w.at(k).mean / float64(to-from)
	}
	return s
}

// atRest returns the state over the whole window.
func (w *window) atRest() state { return w.stateOver(w.first, w.next) }

// lately returns the state over the last few cycles.
func (w *window) lately() state { return w.stateOver(max(w.first, w.next-recentCycles), w.next) }

// moved returns by how much screw s has moved its cylinders from one state to another, kPa, and
// whether the movement is as that screw moves all cylinders.
func (l *linkage) moved(s int, from, to *state) (kpa float64, fits bool) {
	var d perCylinder
	for c := range l.n {
		d[c] = to.level[c] - from.level[c]
	}
	column := &l.columns[s]
	kpa = dot(&d, column, l.n) / dot(column, column, l.n)
	off := 0.0
	for c := range l.n {
		off += (d[c] - kpa*column[c]) * (d[c] - kpa*column[c])
	}
	return kpa, off <= mostMisfitShare*mostMisfitShare*kpa*kpa*dot(column, column, l.n)
}

// disturbance returns how much of a movement from one state to another may come from the speed, or
// from what all cylinders did together, kPa.
func (l *linkage) disturbance(from, to *state) float64 {
	least, most := math.Inf(1), math.Inf(-1)
	for c := range l.n {
		least, most = min(least, from.level[c]), max(most, from.level[c])
	}
	ratio := func(a, b float64) float64 { return math.Abs(math.Log(max(a, 1) / max(b, 1))) }
	return speedPart * (most - least) * max(ratio(to.rpm, from.rpm), ratio(to.mean, from.mean))
}

// jumped reports whether a cylinder has moved faster than by hand in the last few cycles.
func (w *window) jumped() bool {
	for k := max(w.first+1, w.next-2*recentCycles); k < w.next; k++ {
		for c := range w.n {
			if math.Abs(w.at(k).level[c]-w.at(k - 1).level[c]) > mostStep {
				return true
			}
		}
	}
	return false
}

func dot(a, b *perCylinder, n int) (sum float64) {
	for c := range n {
		sum += a[c] * b[c]
	}
	return sum
}

// learnColumn learns from a movement of screw s alone how it moves all cylinders: passages that
// join the runners have it move them all.
func (w *window) learnColumn(s int, from, to *state) {
	l := &w.link
	kpa, fits := l.moved(s, from, to)
	if !fits || math.Abs(kpa) < leastColumn {
		return
	}
	before := l.weights[s]
	l.weights[s] += kpa * kpa
	for c := range l.n {
		seen := (to.level[c] - from.level[c]) / kpa
		l.columns[s][c] = (before*l.columns[s][c] + kpa*kpa*seen) / l.weights[s]
	}
	if !l.invert() {
		return
	}
	for k := w.first; k < w.next; k++ {
		w.at(k).wanted = l.wanted(&w.at(k).level)
	}
}
