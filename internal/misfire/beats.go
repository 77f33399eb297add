package misfire

import "math"

// beatsKept is how many beats of a cylinder are kept, a power of two.
const beatsKept = 8

// beats keeps the last beats of all cylinders.
type beats struct {
	n      int // cylinders
	cycles int // whose beats are kept, since the start
	at     [MaxCylinders][beatsKept]float64
	part   [MaxCylinders][beatsKept]float64 // of the cycle, that the beat comes after
	home   [MaxCylinders]float64            // where the dip was first, in cycles: it stays in that cycle
	place  [MaxCylinders]float64            // usual place of the beat in the cycle
	falls  [MaxCylinders]fallShift
	from   int // number of the cycle from which on that is learned
}

// fallShift is what is known of how a beat moves with the strength of its fall. Both are taken from their means of a
// few cycles: usual places that are still being learned, or a butterfly that is turned, have both drift.
type fallShift struct {
	usual           float64 // fall, kPa
	off             float64 // how far the beat is off its usual place in the mean, cycles
	square, product float64 // mean of the square of strength, and of it times the move in cycles
}

// Constants of fallShift.
const (
	// fallShare is the share by which a cycle renews it, and driftShare that by which one renews the means, startShare
	// in the first startCycles. Chosen: with the longer means for good, sound practice engines with hard sparks were
	// told to misfire 14 times on 40 bikes, with these 6 (before beats went by medians at the ends of a fall); with the
	// shorter ones at once a dead cylinder was named 1.4 s later.
	fallShare   = 0.03
	driftShare  = 0.1
	startShare  = 0.08
	startCycles = 100
	// fallNoise is the strength that noise shows. Chosen.
	fallNoise = 0.003
)

// push takes a fall and how far its beat is off its usual place, in cycles; it returns how much of that
// the strength of the fall explains.
func (f *fallShift) push(fall, off float64, cycles int) (explained float64) {
	if f.usual == 0 {
		f.usual, f.off = fall, off
	}
	strength, move := fall/f.usual-1, off-f.off
	share := driftShare
	if cycles < startCycles {
		share = max(startShare, 1/float64(cycles+1))
	}
	f.usual += share * (fall - f.usual)
	f.off += share * (off - f.off)
	explained = strength * f.product / (f.square + fallNoise*fallNoise)
	f.square += fallShare * (strength*strength - f.square)
	f.product += fallShare * (strength*move - f.product)
	return explained
}

// anew takes the places of the last cycle for the usual ones.
func (b *beats) anew() {
	for c, p := range b.part {
		b.place[c] = p[(b.cycles-1)&(beatsKept-1)]
	}
	b.from = b.cycles
}

// placeShare is the share by which a cycle renews the usual places, and spoiltShare that by which one does
// in which a push was missing. Chosen.
const placeShare, spoiltShare = 0.05, 0.005

// push takes the beats of a cycle.
func (b *beats) push(y *Cycle) {
	b.n = len(y.Dip)
	start, period := y.Start, y.Period
	var fall [MaxCylinders]float64
	k, common, n := b.cycles%beatsKept, 0.0, 0.0
	for c, d := range y.Dip {
		if b.cycles == 0 {
			b.home[c] = d
		}
		d += math.Round(b.home[c] - d)
		b.at[c][k], fall[c] = y.Beat(c, start+d*period)
		b.part[c][k] = (b.at[c][k] - start) / period
		if b.cycles == 0 {
			b.place[c] = b.part[c][k]
		}
		if off := b.part[c][k] - b.place[c]; off == off {
			common += off
			n++
		}
	}
	for c := range b.n {
		if off := b.part[c][k] - b.place[c] - common/n; off == off {
			b.at[c][k] -= period * b.falls[c].push(fall[c], off, b.cycles)
		}
	}
	b.cycles++
}

// mostMoved is how far a dip may move from where it was first, in cycles. Chosen: a hose that is put on another
// cylinder moves it by 0.14 and more at the angles that are usual, a speed that changes by half by 0.03.
const mostMoved = 0.11

// moved reports whether a dip lies elsewhere than it was first: its hose sits on another cylinder, and what is known of
// the beats is that of the one before.
func (b *beats) moved(dips []float64) bool {
	for c, d := range dips {
		off := d - b.home[c]
		if b.cycles > 0 && math.Abs(off-math.Round(off)) > mostMoved {
			return true
		}
	}
	return false
}

// skip takes note of a cycle that was not told: it has no beats.
func (b *beats) skip() {
	k := b.cycles % beatsKept
	for c := range b.n {
		b.at[c][k], b.part[c][k] = math.NaN(), math.NaN()
	}
	b.cycles++
}

// learn renews the usual places with those of cycle number k.
func (b *beats) learn(k int, spoilt bool) {
	share := max(placeShare, 1/float64(k-b.from+1))
	if spoilt {
		share = spoiltShare
	}
	for c := range b.n {
		if p := b.part[c][k%beatsKept]; p == p {
			if b.place[c] != b.place[c] {
				b.place[c] = p
			}
			b.place[c] += share * (p - b.place[c])
		}
	}
}

// A cylinder's push on the crank is centred a quarter turn after it fires, its beat some 80 degrees after
// the top of its intake stroke: half a cycle apart, within pushTolerance, in any engine.
const (
	pushAfter     = 0.5
	pushTolerance = 0.07
)

// nearest are the two beats nearest to a push on one side of it, the nearer first: how far off they are,
// in cycles, and when they come.
type nearest struct{ off, time [2]float64 }

// take keeps a beat if it is one of the nearest.
func (p *nearest) take(off, time float64) {
	switch {
	case off < p.off[0]:
		p.off[1], p.time[1] = p.off[0], p.time[0]
		p.off[0], p.time[0] = off, time
	case off < p.off[1]:
		p.off[1], p.time[1] = off, time
	}
}

// period is the time between the two, for a whole cycle.
func (p *nearest) period() float64 { return math.Abs((p.time[1] - p.time[0]) / (p.off[1] - p.off[0])) }

// slowing returns by what share the crank is slower after a push at a place of a cycle than before; beat
// gives where the beat of each cylinder lies, j cycles later, and its time. NaN where beats are missing.
func slowing(n int, push float64, beat func(c, j int) (place, time float64)) float64 {
	const far = 9
	left, right := nearest{off: [2]float64{far, far}}, nearest{off: [2]float64{far, far}}
	for j := -1; j <= 2; j++ {
		for c := range n {
			place, time := beat(c, j)
			off := place - push
			if off <= pushTolerance {
				left.take(-off, time)
			}
			if off >= -pushTolerance {
				right.take(off, time)
			}
		}
	}
	before, after := left.period(), right.period()
	return 2 * (after - before) / (after + before)
}

// slowing returns by what share the crank is slower after the push of cylinder y in cycle number k than
// before it, beyond the usual.
func (b *beats) slowing(y, k int) float64 {
	beat := func(c, j int) (place, time float64) {
		return b.place[c] + float64(j), b.at[c][(k+j)&(beatsKept-1)]
	}
	if b.n == 2 {
		return slowingOfTwin(y, beat)
	}
	return slowing(b.n, b.place[y]+pushAfter, beat)
}

// slowingOfTwin is slowing of a twin, at whatever angles it fires. Both cylinders push between the two beats that lie
// further apart, a and b, first the leading one, whose beat comes before a. The crank goes as between the beats before
// until the leading one pushes, and as between those after once the other has pushed; how it goes from push to push is
// what is left of the time from a to b:
//
//	time(b) − time(a) = s·(first push − a) + m·(second push − first push) + t·(b − second push)
//
// with the slownesses s, m and t in seconds a cycle.
func slowingOfTwin(y int, beat func(c, j int) (place, time float64)) float64 {
	own, _ := beat(y, 0)
	other, _ := beat(1-y, 0)
	if math.IsNaN(own - other) {
		return math.NaN()
	}
	lead, j, k := y, 0, int(math.Ceil(own-other)) // whose beat comes first, and in which cycles the two lie
	if gap := other + float64(k) - own; gap >= pushAfter {
		lead, j, k = 1-y, k-1, 0
	}
	first, began := beat(lead, j)
	a, left := beat(1-lead, k)
	_, came := beat(lead, j+1)
	_, ended := beat(1-lead, k+1)
	gap := a - first
	s, t := (left-began)/gap, (ended-came)/gap
	m := (came - left - (s+t)*(first+pushAfter-a)) / gap
	if y == lead {
		return 2 * (m - s) / (m + s)
	}
	return 2 * (t - m) / (t + m)
}

// shared reports whether cylinder y of three and more pushes between the same two beats as another one: which of the
// two was missing can't be told.
func (b *beats) shared(y int) bool {
	for o := range b.n {
		if o != y && b.together(y, o) {
			return true
		}
	}
	return false
}

// together reports whether cylinders y and o, of three and more that fire unevenly, push between the same two beats.
func (b *beats) together(y, o int) bool {
	if _, even := b.evenPlaces(); even || b.n == 2 {
		return false
	}
	gap := b.place[o] - b.place[y]
	gap -= math.Floor(gap)
	return b.between(y, gap) == 0 || b.between(o, 1-gap) == 0
}

// between counts the beats within so many cycles after the push of cylinder y.
func (b *beats) between(y int, cycles float64) (n int) {
	for c := range b.n {
		after := b.place[c] - b.place[y] - pushAfter
		if after-math.Floor(after) < cycles {
			n++
		}
	}
	return n
}

// maxUneven is how far the places of beats may be off even ones, in cycles, for an engine that fires
// evenly. Chosen: hoses of 2 and 6 ms are 0.035 apart at idle.
const maxUneven = 0.05

// evenPlaces returns where beats would lie if crank and hoses were even; ok is false of an engine
// that doesn't fire evenly.
func (b *beats) evenPlaces() (even [MaxCylinders]float64, ok bool) {
	n, mean := float64(b.n), 0.0
	for c := range b.n {
		rank := 0
		for o := range b.n {
			if b.afterFirst(o) < b.afterFirst(c) {
				rank++
			}
		}
		even[c] = float64(rank)/n + b.place[c] - b.afterFirst(c)
		mean += (b.place[c] - even[c]) / n
	}
	for c := range b.n {
		even[c] += mean
		if off := b.place[c] - even[c]; !(math.Abs(off) < maxUneven) {
			return even, false
		}
	}
	return even, true
}

// afterFirst is a beat's place in the cycle that begins with cylinder 1's.
func (b *beats) afterFirst(c int) float64 {
	p := b.place[c] - b.place[0]
	return p - math.Floor(p+maxUneven)
}

// usualSlowing returns the slowing after the push of cylinder y in the usual cycle of an engine that
// fires evenly; lag is each hose's, in cycles.
func (b *beats) usualSlowing(y int, even, lag *[MaxCylinders]float64) float64 {
	return slowing(b.n, even[y]+pushAfter, func(c, j int) (place, time float64) {
		return even[c] + float64(j), b.place[c] - lag[c] + float64(j)
	})
}
