package balance

import (
	"math"

	"evendraw/internal/cycle"
)

// Constants of the averaging window.
const (
	// windowSeconds is the most time averaged over. Chosen: quiet figures,
	// while weather and heat move little.
	windowSeconds = 10.0
	// windowCycles bounds the window at high speed.
	windowCycles = 512
	// recent is how many cycles tell what is so now.
	recent = 3
	// changeSigmas is how many standard errors two parts of the window must
	// stand apart to be a change. Chosen: 1 in 100 000 for normal scatter and
	// each comparison. Measured on the practice engine's steady idle, a four:
	// none in 600 s (TestFalseAlarms).
	changeSigmas = 4.5
	// changeLeast is the smallest change that restarts the window.
	changeLeast = 0.1 // kPa
	// scatterCycles is the memory of the cycles' own scatter. It outlives the
	// window, and is taken from second differences, so that a screw being
	// turned does not pass for scatter.
	scatterCycles = 40
	// A cycle whose variance is more than outlier times the usual counts only
	// outlierShare as much: a turn that begins or ends is no scatter.
	outlier = 9
	// scatterUnsure is how many cycles' worth of doubt the scatter begins with.
	scatterUnsure = 20.0
	outlierShare  = 0.1
)

// window keeps the draws of the last cycles since something changed.
type window struct {
	n     int // cylinders
	link  linkage
	first int // number of the oldest cycle that counts
	next  int // number of the next cycle
	ring  [windowCycles]entry
	// draw is in kPa; opening in proportion to the butterfly's area, NaN where unknown.
	draw, opening [cycle.MaxCylinders]track
	// variance of level from cycle to cycle, by cylinder, and how many cycles
	// have gone into it.
	variance perCylinder
	scatters int
	// byOpening makes level what the openings say instead of the draws.
	byOpening bool
	unknown   int     // cycles in a row without an opening that is levelled by
	rpm       float64 // slow mean of the speed
	total     sums
	// left is the mean over the last cycles of how far those left out are off, by
	// cylinder, kPa.
	left   perCylinder
	values [windowCycles]float64 // room for those of a series
}

// track keeps a figure of one cylinder, by cycle. What is gone through cycle by cycle, a
// few cylinders at a time, lies side by side so.
type track [windowCycles]float64

func (t *track) at(k int) float64     { return t[uint(k)%windowCycles] }
func (t *track) set(k int, v float64) { t[uint(k)%windowCycles] = v }

// entry is what else is kept of a cycle.
type entry struct {
	time float64
	// level is the draw scaled so that the mean of all is nominalDraw. As the idle
	// wanders by some per cent, differences move with the draws; butterflies
	// that stand still keep these figures still.
	level perCylinder
	// wanted is what level wants of each screw.
	wanted perScrew
	// before are the sums of all entries before it.
	before sums
}

// sums are running sums, whose differences give the means of any stretch.
type sums struct{ draw, level perCylinder }

// before returns the sums of all entries before cycle number k, the next at most.
func (w *window) before(k int) *sums {
	if k == w.next {
		return &w.total
	}
	return &w.at(k).before
}

// at returns the entry of cycle number k.
func (w *window) at(k int) *entry { return &w.ring[uint(k)%windowCycles] }

// clear forgets all cycles; what was summed up starts anew, and so can't lose digits for ever.
func (w *window) clear() { w.first, w.total = w.next, sums{} }

func (w *window) cycles() int { return w.next - w.first }

// push adds a cycle and reports whether it tells of a change, at which the
// cycles before it are forgotten.
func (w *window) push(t float64, draw, opening *perCylinder) (changed bool) {
	w.unknown++
	if !w.byOpening || w.readable(opening) {
		w.unknown = 0
	}
	e := w.at(w.next)
	e.time, e.level = t, w.level(draw, opening)
	e.wanted = w.link.wanted(&e.level)
	e.before = w.total
	for c := range w.n {
		w.draw[c].set(w.next, draw[c])
		w.opening[c].set(w.next, opening[c])
		w.total.draw[c] += draw[c]
		w.total.level[c] += e.level[c]
		w.left[c] -= w.left[c] / leftMemory
	}
	w.next++
	w.first = max(w.first, w.next-windowCycles)
	for w.at(w.first).time < t-windowSeconds {
		w.first++
	}
	w.learnScatter()
	if keep := w.changed(); keep > 0 {
		w.first = w.next - keep
		return true
	}
	return false
}

// nominalDraw is the mean draw that level figures are scaled to. Chosen: a warm
// idle's 20 to 30 kPa (common practice, no source).
const nominalDraw = 25 // kPa

// leastMean keeps the scaling from blowing up where there is hardly a draw.
const leastMean = 5 // kPa

// level returns the level of a cycle with those draws and openings.
func (w *window) level(draw, opening *perCylinder) (level perCylinder) {
	if w.byOpening && w.levelOfOpenings(&level, opening) {
		return level
	}
	sum := 0.0
	for c := range w.n {
		sum += draw[c]
	}
	scale := nominalDraw / max(sum/float64(w.n), leastMean)
	for c := range w.n {
		level[c] = draw[c] * scale
	}
	return level
}

// levelOfOpenings fills in a level that the openings give: the draw that sound cylinders
// would have. With an unknown one it is that of the cycle before; ok is false without.
func (w *window) levelOfOpenings(level, opening *perCylinder) (ok bool) {
	if !w.readable(opening) {
		if w.next > 0 {
			*level = w.at(w.next - 1).level
		}
		return w.next > 0
	}
	mean := 0.0
	for c := range w.n {
		mean += math.Log(opening[c]) / float64(w.n)
	}
	for c := range w.n {
		level[c] = nominalDraw - drawPerLogOpening*(math.Log(opening[c])-mean)
	}
	return true
}

// readable reports whether all openings are known.
func (w *window) readable(opening *perCylinder) bool {
	for _, o := range opening[:w.n] {
		if !(o > 0) {
			return false
		}
	}
	return true
}

// now is the time of the newest cycle.
func (w *window) now() float64 { return w.at(w.next - 1).time }

// learnScatter takes how far the last cycle but one lies off the line between
// its neighbours into variance.
func (w *window) learnScatter() {
	if w.cycles() < 3 {
		return
	}
	w.scatters++
	for c := range w.n {
		share := 1 / float64(min(w.scatters, scatterCycles))
		bend := w.at(w.next - 1).level[c] - 2*w.at(w.next - 2).level[c] + w.at(w.next - 3).level[c]
		v := bend * bend / 6
		if most := outlier * w.variance[c]; w.scatters > scatterCycles/4 && v > most {
			v, share = most, share*outlierShare
		}
		w.variance[c] += share * (v - w.variance[c])
	}
}

// changed holds the last two and three cycles against those before, for a step,
// and the newer half of the window against the older, for a slow change. It
// returns how many cycles belong to what is new, 0 for no change.
func (w *window) changed() (keep int) {
	n := w.cycles()
	most := 1.0
	for _, last := range [...]int{2, recent, n / 2} {
		if n-last < 2 || last < 2 {
			continue
		}
		if apart := w.apart(last); apart > most {
			most, keep = apart, last
		}
	}
	return keep
}

// noise returns the variance of what is wanted of screw s from cycle to cycle.
func (w *window) noise(s int) (v float64) {
	for c := range w.n {
		v += w.link.inverse[s][c] * w.link.inverse[s][c] * w.variance[c]
	}
	return v
}

// apart returns how far the last cycles stand apart from those before: above 1
// is a change. All of a few must share in it: one odd cycle, a misfire, is none.
func (w *window) apart(last int) (most float64) {
	before := w.cycles() - last
	// A scatter known from few cycles may be too small.
	unsure := math.Sqrt(1 + scatterUnsure/float64(min(w.scatters, scatterCycles)+1))
	ratio := changeSigmas * unsure * math.Sqrt(1/float64(last)+1/float64(before))
	then, now := w.meanLevel(w.first, w.next-last), w.meanLevel(w.next-last, w.next)
	for c := range w.n {
		step := now[c] - then[c]
		limit := max(changeLeast, ratio*math.Sqrt(w.variance[c]))
		if share := math.Abs(step) / limit; share > most && (last > recent || w.shared(last, c, then[c], step)) {
			most = share
		}
	}
	return most
}

// sharedPart is the part of a step that each of the last cycles must show.
// Derived: of two cycles of a steady turn the first shows two thirds of their
// mean; of two cycles of which one came before a step, it shows nothing.
const sharedPart = 0.65

// shared reports whether each of the last cycles of cylinder c has its part of a
// step away from then.
func (w *window) shared(last, c int, then, step float64) bool {
	for k := w.next - last; k < w.next; k++ {
		if part := (w.at(k).level[c] - then) / step; part < sharedPart {
			return false
		}
	}
	return true
}

// meanLevel averages level over cycles from to before to.
func (w *window) meanLevel(from, to int) (mean perCylinder) {
	then, now := &w.before(from).level, &w.before(to).level
	for c := range w.n {
		mean[c] = (now[c] - then[c]) / float64(to-from)
	}
	return mean
}

// wanted averages what is wanted of each screw over cycles from to before to.
func (w *window) wanted(from, to int) perScrew {
	level := w.meanLevel(from, to)
	return w.link.wanted(&level)
}

// difference takes the statistics of draw c minus draw ref.
func (w *window) difference(c, ref int) (s Series) {
	values, own, other := w.values[:w.cycles()], &w.draw[c], &w.draw[ref]
	for i := range values {
		values[i] = own.at(w.first+i) - other.at(w.first+i)
	}
	s.PushAll(values)
	return s
}

// series takes the statistics of value over the window.
func (w *window) series(value func(e *entry) float64) Series {
	values := w.values[:w.cycles()]
	for i := range values {
		values[i] = value(w.at(w.first + i))
	}
	var s Series
	s.PushAll(values)
	return s
}
