package balance

import (
	"math"

	"evendraw/internal/learned"
)

// resting reports whether the hand has paused: over some of the newest cycles what is wanted has surely changed by less
// than half of what it does at the pace of that hand: the one that was seen, and once the amount may be made the usual.
func (a *advisor) resting(r *Reading, w *window) bool {
	k := &a.screws[a.screw]
	least, pace, sigmas := leastRest, max(a.surest, learned.SlowPace/2*k.Size()), restSigmas
	switch {
	case math.IsNaN(a.amount):
		least, pace = loneRest, max(a.steady, learned.SlowPace/2*k.Size())
	case a.mayBeMade(w):
		least, sigmas = madeRest, madeSigmas
		pace = max(pace, learned.SlowPace*k.Size()*math.Exp(-math.Sqrt(k.Variance)))
	}
	most, sd := slowestShare*pace*r.Span.Period, math.Sqrt(w.wantedVariance(a.screw))
	for n := least; n <= min(longRest, w.next-max(w.since, a.phaseCycle-1, a.goneOn)); n += 1 + n/mostRest*(n/2) {
		if slope, scale := w.slope(a.screw, n); math.Abs(slope)+sigmas*sd*scale < most {
			a.rested = n/2 + 1 // the older ones may have been of the end of the movement
			return true
		}
	}
	return false
}

// seePace looks how quickly the screw in hand has moved of late, for sure and at most: over all of the movement, and in
// some cycles of it.
func (a *advisor) seePace(r *Reading, w *window) {
	sd := math.Sqrt(w.wantedVariance(a.screw))
	seen := w.next - max(a.phaseCycle-recentCycles, w.since)
	if n := seen - recentCycles; n >= recentCycles {
		then, now := w.wanted(w.next-seen, w.next-n)[a.screw], w.wanted(w.next-recentCycles, w.next)[a.screw]
		moved := math.Abs(now-then) - restSigmas*sd*math.Sqrt(2.0/recentCycles)
		a.surest = max(a.surest, moved/float64(n)/r.Span.Period)
	}
	if n := min(paceCycles, seen); n > recentCycles {
		slope, scale := w.slope(a.screw, n)
		pace, doubt := math.Abs(slope)/r.Span.Period, sd*scale/r.Span.Period
		a.surest = max(a.surest, pace-peakSigmas*doubt)
		if doubt < paceDoubtful*a.screws[a.screw].Size() {
			a.quickest = max(a.quickest, pace)
		}
	}
}

// mayBeMade reports whether the amount that was told may be made by now: by what has moved, or by the time.
func (a *advisor) mayBeMade(w *window) bool {
	moved := math.Abs(a.rest.wanted[a.screw] - a.move.X)
	return moved > madeTime*a.amount*a.screws[a.screw].Size() ||
		w.now()-a.phaseTime+answerSeconds > madeTime*a.amount/min(a.hand.Pace, learned.TurnPace)
}

// slope returns the least-squares slope of what is wanted of screw s over the newest n cycles, kPa a cycle, and its
// standard deviation where that of a cycle is 1.
func (w *window) slope(s, n int) (slope, scale float64) {
	mid, squares := float64(n-1)/2, float64(n*(n*n-1))/12
	for i := range n {
		slope += (float64(i) - mid) * w.at(w.next - n + i).wanted[s] / squares
	}
	return slope, 1 / math.Sqrt(squares)
}

// meanPace returns the pace from the mean of paceCycles to that of the next, kPa a cycle: scatter hardly moves it.
func (a *advisor) meanPace(w *window) float64 {
	from, mid := w.next-2*paceCycles, w.next-paceCycles
	if from < max(w.first, a.phaseCycle-recentCycles) {
		return 0
	}
	return math.Abs(w.wanted(mid, w.next)[a.screw]-w.wanted(from, mid)[a.screw]) / paceCycles
}
