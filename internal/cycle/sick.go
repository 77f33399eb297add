package cycle

import "math"

// Where the boundary lies among misfires. The dip after one is shallower where the gas that it leaves is cool. A fall
// that is next to the boundary then says that the crank was late: once a cylinder is known to misfire, the boundary
// moves to where that cylinder's fall is far.

// Constants of that.
const (
	// sickRate is the share by which a cycle renews the share of misfires. From sickShare of them on, for sickCycles,
	// the boundary may be moved; above mostSick it isn't, nor for moveCycles after: a boundary on the falls of a
	// cylinder that misfires often shows better which one it is (measured on one that runs lean). Chosen.
	sickRate   = 1.0 / 32
	sickShare  = 0.06
	mostSick   = 0.2
	sickCycles = 24
	// fallLead is by how much the middle of a fall comes before its dip, in cycles: measured, an idle's.
	fallLead = 0.08
	// fallCost is by how many times a boundary costs more on such a fall. Chosen.
	fallCost = 2.0
	// moveGain is the most that another boundary may cost, over the one that is used, and moveCycles how many
	// cycles come between moves. Chosen: for some cycles the boundaries are less exact.
	moveGain   = 0.6
	moveCycles = 128
	// sameBoundary is the difference of two boundaries, in bins, up to which they are one. Chosen.
	sameBoundary = 6
	// backCycles is how many cycles the match of a moved boundary is learned from at once. Chosen.
	backCycles = 8
	// sameTime is by how much, in cycles, a span may begin before the last one's end. Chosen: it changes no mean.
	sameTime = 0.02
)

// sick is which cylinders are known to misfire.
type sick struct {
	share [MaxCylinders]float64 // of the charges that don't burn
	since int                   // cycles in a row in which some cylinder is known to misfire
	wait  int                   // cycles until it may be moved again
	moved bool                  // it was, and no span has begun there yet
}

// costs returns by how many times a boundary at bin i costs more for cylinders that misfire.
func (s *sick) costs(t *template, i int) float64 {
	most := 1.0
	for c, dip := range t.dip {
		if s.share[c] < sickShare {
			continue
		}
		x := dip - fallLead - float64(i)/bins
		if x = (x - math.Round(x)) / halfWindow; math.Abs(x) < 1 {
			most = max(most, 1+fallCost*(1-x*x))
		}
	}
	return most
}

// moveBoundary takes in the misfires of the last span, and moves the boundary where another one is much better.
func (t *Tracker) moveBoundary() {
	f, s := t.follow, &t.follow.sick
	found, often := false, false
	for c, unburnt := range t.span.Misfire[:t.span.N] {
		s.share[c] -= sickRate * s.share[c]
		if unburnt {
			s.share[c] += sickRate
		}
		found = found || s.share[c] >= sickShare
		often = often || s.share[c] > mostSick
	}
	s.wait--
	if s.since++; !found {
		s.since = 0
	}
	if often {
		s.wait = moveCycles
	}
	if s.since < sickCycles || s.wait > 0 || f.misses > 0 || !t.misfires.CanShift() {
		return
	}
	s.wait = moveCycles
	if by := f.betterBoundary(); by > 0 {
		t.shiftBoundary(by)
	}
}

// shiftBoundary moves the boundary later by so many bins; an engine that is followed no longer then is lost.
func (t *Tracker) shiftBoundary(by int) {
	if t.follow.move(t.history, by); !t.follow.active {
		t.lose()
		return
	}
	t.misfires.Shift(float64(by) / bins)
	t.follow.sick.moved = true
}

// betterBoundary returns the bin of a boundary that is much better than the one that is used, 0 of none.
func (f *follow) betterBoundary() int {
	cost := f.template.boundaryCosts(&f.sick)
	least, best, _ := extremes(cost[:])
	now := cost[0]
	for i := range sameBoundary {
		now = min(now, cost[i], cost[bins-1-i])
	}
	if best < sameBoundary || best > bins-sameBoundary || least > moveGain*now {
		return 0
	}
	return best
}

// move moves the boundary later by so many bins, and learns the match anew from the last cycles.
func (f *follow) move(h *history, by int) {
	until := f.boundary + lookAhead*f.period
	f.template.rotate(by)
	f.intake.forgetUsual()
	f.periodBefore = 0
	at := f.boundary + (float64(by)/bins-1)*f.period
	for range backCycles {
		at = f.fit.boundary(h, f.template, at, f.period)
		if at-(1+halfWindow)*f.period < h.oldest() {
			break
		}
		at -= f.period
	}
	f.boundary = at
	for f.active && f.readyAt() <= until {
		f.next(h)
	}
}
