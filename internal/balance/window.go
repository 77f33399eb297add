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
	// recent is how many cycles are held against those before them to see a
	// change. Chosen: a change shows within as many cycles.
	recent = 3
	// changeSigmas is how many standard errors two parts of the window must
	// stand apart to be a change. Chosen: 1 in 100 000 for normal scatter and
	// each comparison.
	changeSigmas = 4.5
	// changeLeast is the smallest change that restarts the window.
	changeLeast = 0.1 // kPa
	// scatterCycles is the memory of the cycles' own scatter. It outlives the
	// window, and is taken from second differences, so that a screw being
	// turned does not pass for scatter.
	scatterCycles = 40
	// A cycle whose variance is more than outlier times the usual counts only
	// outlierShare as much: a turn that begins or ends is no scatter.
	outlier      = 9
	outlierShare = 0.1
)

// window keeps the draws of the last cycles since something changed.
type window struct {
	n     int // cylinders
	first int // number of the oldest cycle that counts
	next  int // number of the next cycle
	time  [windowCycles]float64
	draw  [windowCycles][cycle.MaxCylinders]float64
	// variance of level from cycle to cycle, by cylinder, and how many cycles
	// have gone into it.
	variance [cycle.MaxCylinders]float64
	scatters int
}

func (w *window) clear() { w.first = w.next }

func (w *window) cycles() int { return w.next - w.first }

// push adds a cycle's draws and reports whether they tell of a change, at
// which the cycles before it are forgotten.
func (w *window) push(t float64, draw *[cycle.MaxCylinders]float64) (changed bool) {
	i := w.next % windowCycles
	w.time[i], w.draw[i] = t, *draw
	w.next++
	w.first = max(w.first, w.next-windowCycles)
	for w.time[w.first%windowCycles] < t-windowSeconds {
		w.first++
	}
	w.learnScatter()
	if w.changed() {
		w.first = w.next - recent
		return true
	}
	return false
}

// nominalDraw is the mean draw that level figures are scaled to. Chosen: a warm
// idle's 20 to 30 kPa (common practice, no source).
const nominalDraw = 25 // kPa

// leastMean keeps the scaling from blowing up where there is hardly a draw.
const leastMean = 5 // kPa

// level returns cylinder c's draw in cycle k scaled so that the mean of all is
// nominalDraw. As the idle wanders by some per cent, differences move with the
// draws; butterflies that stand still keep these figures still.
func (w *window) level(k, c int) float64 {
	d := &w.draw[k%windowCycles]
	sum := 0.0
	for i := range w.n {
		sum += d[i]
	}
	return d[c] * nominalDraw / max(sum/float64(w.n), leastMean)
}

// learnScatter takes how far the last cycle but one lies off the line between
// its neighbours into variance.
func (w *window) learnScatter() {
	if w.cycles() < 3 {
		return
	}
	w.scatters++
	for c := range w.n {
		share := 1 / float64(min(w.scatters, scatterCycles))
		bend := w.level(w.next-1, c) - 2*w.level(w.next-2, c) + w.level(w.next-3, c)
		v := bend * bend / 6
		if most := outlier * w.variance[c]; w.scatters > scatterCycles/4 && v > most {
			v, share = most, share*outlierShare
		}
		w.variance[c] += share * (v - w.variance[c])
	}
}

// scatter returns the largest standard deviation of any cylinder's level.
func (w *window) scatter() float64 {
	most := 0.0
	for c := range w.n {
		most = max(most, w.variance[c])
	}
	return math.Sqrt(most)
}

// changed holds the recent cycles against those before, for a step, and the
// newer half of the window against the older, for a slow change.
func (w *window) changed() bool {
	n := w.cycles()
	return n >= 2*recent && (w.apart(recent) || w.apart(n/2))
}

// apart reports whether the last cycles stand apart from those before.
func (w *window) apart(last int) bool {
	before := w.cycles() - last
	ratio := changeSigmas * math.Sqrt(1/float64(last)+1/float64(before))
	for c := range w.n {
		var then, now float64
		for k := w.first; k < w.next-last; k++ {
			then += w.level(k, c)
		}
		for k := w.next - last; k < w.next; k++ {
			now += w.level(k, c)
		}
		step := math.Abs(now/float64(last) - then/float64(before))
		if step > changeLeast && step > ratio*math.Sqrt(w.variance[c]) {
			return true
		}
	}
	return false
}

// series takes the statistics of value over cycles from to before to.
func (w *window) series(from, to int, value func(k int) float64) Series {
	var s Series
	for k := from; k < to; k++ {
		s.Push(value(k))
	}
	return s
}
