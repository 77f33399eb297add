package balance

import (
	"math"

	"evendraw/internal/cycle"
	"evendraw/internal/faults"
	"evendraw/internal/linkage"
	"evendraw/internal/series"
)

// Constants of the averaging window.
const (
	// windowSeconds is the most time averaged over. Chosen: quiet figures, while weather and heat move little.
	windowSeconds = 10.0
	// windowCycles bounds the window at high speed.
	windowCycles = 512
	// recentCycles is how many cycles tell what is so now.
	recentCycles = 3
	// changeSigmas is how many standard errors two parts of the window must stand apart to be a change. Chosen: 1 in
	// 100 000 for normal scatter and each comparison. Measured on the practice engine's steady idle, a four: none in
	// 600 s (TestFalseAlarms of package session).
	changeSigmas = 4.5
	// changeLeast is the smallest change that restarts the window.
	changeLeast = 0.1 // kPa
	// scatterCycles is over how many cycles their own scatter is averaged. It outlives the window, and is taken from
	// second differences, so that a screw being turned does not pass for scatter.
	scatterCycles = 40
	// A cycle that is more than outlierRatio times the usual variance off counts for
	// that much, and only outlierShare as much: a turn that begins or ends is no scatter.
	outlierRatio = 9
	outlierShare = 0.1
	// huntMemory is how many cycles tell by how much an idle hunts. Chosen: some swings.
	huntMemory = 60.0
	// scatterUnsure widens the limits of a change while few cycles tell the scatter: by √(1 + scatterUnsure/cycles).
	scatterUnsure = 20.0
)

// window keeps the draws of the last cycles since something changed.
type window struct {
	n     int // cylinders
	link  linkage.Linkage
	first int // number of the oldest cycle that counts
	next  int // number of the next cycle
	since int // number of the first cycle since all was forgotten
	ring  [windowCycles]entry
	// draw is in kPa; opening in proportion to the butterfly's area, NaN where unknown.
	draw, opening [cycle.MaxCylinders]track
	variance      perCylinder // of the scaled draws from cycle to cycle
	scatters      int         // cycles that have gone into variance
	wander        perScrew    // of what is wanted over recentCycles from the mean of wanderCycles, squared, kPa²
	wanders       int         // cycles that have gone into that
	held          bool        // a screw is known to be turned, or has just been
	calm          int         // number of the first cycle since that, and the speed, were otherwise
	unsteady      bool        // the speed moves: what scatters is no idle's
	changed       bool        // the last cycle told of a change
	// byOpening has the scaled draws made of the openings instead of the draws.
	byOpening       bool
	unknownOpenings int     // cycles in a row that lack an opening, levelling by openings
	rpm             float64 // slow mean of the speed
	lastRPM         float64 // speed of the cycle that is pushed
	hunts           float64 // mean share by which the speed of recentCycles is off that, over huntMemory cycles
	total           sums
	// rejectedOff is how far off the scaled draws of rejected cycles are, averaged over all of the last cycles, kPa.
	rejectedOff perCylinder
	values      [windowCycles]float64 // room for those of a series
	all         series.Series         // of the mean draw of all, up to cycle number allNext
	allNext     int
}

// track keeps a figure of one cylinder, by cycle, side by side: fast to go through.
type track [windowCycles]float64

func (t *track) at(k int) float64     { return t[uint(k)%windowCycles] }
func (t *track) set(k int, v float64) { t[uint(k)%windowCycles] = v }

// entry is what else is kept of a cycle.
type entry struct {
	time, rpm, mean float64 // its end, speed, and mean draw
	// scaled are the draws, scaled so that the mean of all is faults.NominalDraw: while butterflies stand
	// still they do so too, though the idle and all draws wander by some per cent.
	scaled perCylinder
	// wanted is what those want of each screw.
	wanted perScrew
	// before are the sums of all entries before it.
	before sums
}

// sums are running sums: the mean of any stretch is a difference over its length.
type sums struct{ draw, scaled perCylinder }

// before returns the sums of all entries before cycle number k, the next at most.
func (w *window) before(k int) *sums {
	if k == w.next {
		return &w.total
	}
	return &w.at(k).before
}

// at returns the entry of cycle number k.
func (w *window) at(k int) *entry { return &w.ring[uint(k)%windowCycles] }

// settle forgets what was before the speed settled, the scatter too: at a start it is that of cycles that were none.
func (w *window) settle() {
	w.clear()
	w.scatters = 0
}

// clear forgets all cycles. The sums start anew, or they would lose digits over hours.
func (w *window) clear() { w.first, w.since, w.total = w.next, w.next, sums{} }

func (w *window) cycles() int { return w.next - w.first }

// push adds a cycle and reports whether it tells of a change, at which the cycles before it are forgotten.
func (w *window) push(t float64, draw, opening *perCylinder) (changed bool) {
	w.unknownOpenings++
	if !w.byOpening || w.openingsKnown(opening) {
		w.unknownOpenings = 0
	}
	e := w.at(w.next)
	e.time, e.rpm, e.mean, e.scaled = t, w.lastRPM, 0, w.scaled(draw, opening)
	e.wanted = w.link.Wanted(&e.scaled)
	e.before = w.total
	for c := range w.n {
		w.draw[c].set(w.next, draw[c])
		w.opening[c].set(w.next, opening[c])
		e.mean += draw[c] / float64(w.n)
		w.total.draw[c] += draw[c]
		w.total.scaled[c] += e.scaled[c]
		w.rejectedOff[c] -= w.rejectedOff[c] / rejectedMemory
	}
	w.next++
	w.first = max(w.first, w.next-windowCycles)
	for w.at(w.first).time < t-windowSeconds {
		w.first++
	}
	w.learnScatter()
	if !w.unsteady && w.cycles() >= recentCycles {
		rpm, _ := w.speedOver(w.next-recentCycles, w.next)
		w.hunts += (math.Abs(rpm/w.rpm-1) - w.hunts) / huntMemory
	}
	w.learnWander()
	keep := w.findChange()
	if w.changed = keep > 0; w.changed {
		w.keepNewest(keep)
	}
	return w.changed
}

// keepNewest forgets all but the newest n cycles.
func (w *window) keepNewest(n int) { w.first = w.next - n }

// scaled returns the scaled draws of a cycle with those draws and openings.
func (w *window) scaled(draw, opening *perCylinder) (scaled perCylinder) {
	if w.byOpening && w.scaledOpenings(&scaled, opening) {
		return scaled
	}
	sum := 0.0
	for c := range w.n {
		sum += draw[c]
	}
	scale := faults.NominalDraw / max(sum/float64(w.n), faults.LeastMean)
	for c := range w.n {
		scaled[c] = draw[c] * scale
	}
	return scaled
}

// scaledOpenings fills in the scaled draws that the openings give: what sound cylinders with such openings would have.
// Where an opening is unknown they are those of the cycle before; ok is false when there is none.
func (w *window) scaledOpenings(scaled, opening *perCylinder) (ok bool) {
	if !w.openingsKnown(opening) {
		if w.next > 0 {
			*scaled = w.at(w.next - 1).scaled
		}
		return w.next > 0
	}
	mean := 0.0
	for c := range w.n {
		mean += math.Log(opening[c]) / float64(w.n)
	}
	for c := range w.n {
		scaled[c] = faults.NominalDraw - faults.DrawPerLogOpening*(math.Log(opening[c])-mean)
	}
	return true
}

// openingsKnown reports whether all openings are known.
func (w *window) openingsKnown(opening *perCylinder) bool {
	for _, o := range opening[:w.n] {
		if !(o > 0) {
			return false
		}
	}
	return true
}

// now is the time of the newest cycle.
func (w *window) now() float64 { return w.at(w.next - 1).time }

// learnScatter takes into variance how far the last cycle but one lies off the line between its
// neighbours: (x₁ - 2x₂ + x₃)²/6 is the variance of independent values.
func (w *window) learnScatter() {
	if w.cycles() < 3 || w.unsteady {
		return
	}
	w.scatters++
	for c := range w.n {
		share := 1 / float64(min(w.scatters, scatterCycles))
		bend := w.at(w.next - 1).scaled[c] - 2*w.at(w.next - 2).scaled[c] + w.at(w.next - 3).scaled[c]
		v := bend * bend / 6
		if most := outlierRatio * w.variance[c]; w.scatters > scatterCycles/4 && v > most {
			v, share = most, share*outlierShare
		}
		w.variance[c] += share * (v - w.variance[c])
	}
}

// What an idle that hunts, or is lumpy, moves by itself is held against the mean of wanderCycles, and told from
// wanderMemory cycles. Chosen: an idle hunts in two to six seconds. A movement must be more than wanderSigmas standard
// deviations of that. Derived: a swing to and fro is at most 1.4.
const (
	wanderCycles = 24
	wanderMemory = 60
	wanderSigmas = 3.0
	// wanderLate is by how many cycles it is learned later: a turn is seen by then. Chosen.
	wanderLate = 12
	// wanderUnsure widens that while few cycles tell it: by √(1 + wanderUnsure/cycles). Chosen.
	wanderUnsure = 20.0
)

// learnWander takes in by how much what is wanted of each screw stands off its mean now, while no screw is known to be
// turned. What is far more than before is a turn that is not known yet, or the end of one.
func (w *window) learnWander() {
	if w.held || w.unsteady {
		w.calm = w.next
	}
	to := w.next - wanderLate
	from := max(to-wanderCycles, w.calm, w.since)
	if to-from < fewestCycles {
		return
	}
	w.wanders++
	now, mean := w.wanted(to-recentCycles, to), w.wanted(from, to)
	for s := range w.link.Screws() {
		share, v := 1/float64(min(w.wanders, wanderMemory)), (now[s]-mean[s])*(now[s]-mean[s])
		if most := outlierRatio * w.wander[s]; w.wanders > wanderCycles && v > most {
			v, share = most, share*outlierShare
		}
		w.wander[s] += share * (v - w.wander[s])
	}
}

// wandersBy returns how far screw s may seem to have moved by the idle alone, kPa.
func (w *window) wandersBy(s int) float64 {
	unsure := 1 + wanderUnsure/float64(min(w.wanders, wanderMemory)+1)
	return wanderSigmas * math.Sqrt(w.wander[s]*unsure)
}

// findChange compares the last two and three cycles with those before, for a step, and the newer half of the window
// with the older, for a slow change. It returns how many cycles belong to what is new, 0 for no change.
func (w *window) findChange() (keep int) {
	n := w.cycles()
	most := 1.0
	for _, last := range [...]int{2, recentCycles, n / 2} {
		if n-last < 2 || last < 2 {
			continue
		}
		if apart := w.changeRatio(last); apart > most {
			most, keep = apart, last
		}
	}
	return keep
}

// wantedVariance returns the variance from cycle to cycle of what is wanted of screw s.
func (w *window) wantedVariance(s int) float64 {
	return w.link.Variance(s, &w.variance)
}

// changeRatio returns how far the last cycles stand apart from those before, over what counts as
// a change. Of a few cycles each must share in it: one odd cycle, a misfire, is no change.
func (w *window) changeRatio(last int) (most float64) {
	before := w.cycles() - last
	// A scatter known from few cycles may be too small.
	unsure := math.Sqrt(1 + scatterUnsure/float64(min(w.scatters, scatterCycles)+1))
	ratio := changeSigmas * unsure * math.Sqrt(1/float64(last)+1/float64(before))
	then, now := w.meanScaled(w.first, w.next-last), w.meanScaled(w.next-last, w.next)
	for c := range w.n {
		step := now[c] - then[c]
		limit := max(changeLeast, ratio*math.Sqrt(w.variance[c]))
		if share := math.Abs(step) / limit; share > most &&
			(last > recentCycles || w.sharedByAll(last, c, then[c], step)) {
			most = share
		}
	}
	return most
}

// sharedPart is the part of a step that each of the last cycles must show. Derived: of two cycles of a steady turn the
// first shows two thirds of their mean; of two cycles of which one came before a step, it shows nothing.
const sharedPart = 0.65

// sharedByAll reports whether each of the last cycles of cylinder c shows its part of a step away from then.
func (w *window) sharedByAll(last, c int, then, step float64) bool {
	for k := w.next - last; k < w.next; k++ {
		if part := (w.at(k).scaled[c] - then) / step; part < sharedPart {
			return false
		}
	}
	return true
}

// meanScaled averages the scaled draws over cycles from to before to.
func (w *window) meanScaled(from, to int) (mean perCylinder) {
	then, now := &w.before(from).scaled, &w.before(to).scaled
	for c := range w.n {
		mean[c] = (now[c] - then[c]) / float64(to-from)
	}
	return mean
}

// wanted averages what is wanted of each screw over cycles from to before to.
func (w *window) wanted(from, to int) perScrew {
	scaled := w.meanScaled(from, to)
	return w.link.Wanted(&scaled)
}

// difference returns the mean of draw c minus draw ref, and the half-width of its 95 % interval. Where the idle
// wanders, all draws and with them their differences grow and shrink together, for seconds; what is left of the
// scatter is of single cycles. With m the mean draw of all and d the difference:
//
//	half² = (mean m · half of d/m)² + (mean d · half of m / mean m)²
func (w *window) difference(c, ref int) (mean, half float64) {
	values, own, other := w.values[:w.cycles()], &w.draw[c], &w.draw[ref]
	var d series.Average
	var shares series.Series
	for i := range values {
		k := w.first + i
		apart := own.at(k) - other.at(k)
		d = d.With(apart)
		values[i] = apart / max(w.at(k).mean, faults.LeastMean)
	}
	shares.PushAll(values)
	if w.all.N() != len(values) || w.allNext != w.next { // once for all cylinders
		w.all, w.allNext = w.series(w.first, func(e *entry) float64 { return e.mean }), w.next
	}
	all, mean := max(w.all.Mean(), faults.LeastMean), d.Mean()
	return mean, math.Hypot(float64(shares.HalfWidth())*all, mean*float64(w.all.HalfWidth())/all)
}

// series takes the statistics of value from that cycle number on.
func (w *window) series(first int, value func(e *entry) float64) series.Series {
	values := w.values[:w.next-first]
	for i := range values {
		values[i] = value(w.at(first + i))
	}
	var s series.Series
	s.PushAll(values)
	return s
}

// scatterOf returns the standard deviation of the difference of two scaled draws in the mean of n cycles, kPa, by the
// scatter that was learned of cycles: that of the two that scatter most.
func (w *window) scatterOf(n int) float64 {
	most, second := 0.0, 0.0
	for _, v := range w.variance[:w.n] {
		most, second = max(most, v), max(second, min(most, v))
	}
	return math.Sqrt((most + second) / float64(n))
}

// apart takes the statistics of the spread of the scaled draws from that cycle number on.
func (w *window) apart(first int) series.Series {
	scaled := w.meanScaled(first, w.next)
	least, most := 0, 0
	for c := range w.n {
		if scaled[c] < scaled[least] {
			least = c
		}
		if scaled[c] > scaled[most] {
			most = c
		}
	}
	return w.series(first, func(e *entry) float64 { return e.scaled[most] - e.scaled[least] })
}
