package misfire

import (
	"math"
	"slices"
)

// Constants of cylinders that never fire.
const (
	// The crank is slower after their push by deadSlowing over the number of cylinders at least, in usual
	// places of the beats, and by deadSeconds between two beats. Chosen: more than hoses do whose delays
	// differ by a ms. Measured on fours that run on: 0.07 to 0.11 and 3.4 to 5 ms.
	deadSlowing = 0.24
	deadSeconds = 3e-3
	// deadApart, over the number of cylinders, is by how much at least, half of it, that is more than half a
	// cycle later. Butterflies that stand apart, of cylinders that fire in turn, have weak and strong pushes take
	// turns, so that these two slow alike. Measured on fours that stand 6 to 12 kPa apart: 0.24 at most for three
	// looks in a row; with a dead cylinder 0.2 to 0.36.
	deadApart = 0.2
	// oppositePart is the least that this is of their push's own slowing: the push half a cycle later must not
	// slow the crank at all. Derived; measured: 0.51 and more in 470 looks at dead cylinders, 0.37 to 0.48 at a
	// sound one, one of whose hoses seemed 2 ms longer than the others, and that was told.
	oppositePart = 0.5
	// deadScatter is the most that their push scatters, over the others'; measured: 0.2 to 0.79 nine times in ten,
	// sound ones 0.66 to 1.2. deadOver by how much the slowing stands over every other push's. Chosen.
	deadScatter = 0.9
	deadOver    = 0.01
	// minDeadCycles is how many cycles it takes, and deadLooks how many looks in a row, deadEvery cycles apart, a calm
	// engine between them. Chosen: two or three seconds; the first look after a blip may be wrong (measured).
	minDeadCycles = 8
	deadLooks     = 3
	deadEvery     = 2
)

// findDead looks for a cylinder that never fires, in an engine that fires evenly and whose hoses' lags
// are known.
func (m *Watch) findDead(period float64, lags *[MaxCylinders]float64) {
	b := &m.beats
	even, ok := b.evenPlaces()
	var lag, slow [MaxCylinders]float64
	if ok = ok && lags != nil && b.n > 1; ok {
		for c := range b.n {
			lag[c] = lags[c] / period
		}
		for y := range b.n {
			slow[y] = b.usualSlowing(y, &even, &lag)
		}
	}
	for y := range b.n {
		p := &m.pushes[y]
		quiet := m.scatterRatio(y)
		seconds := slow[y] * period / float64(b.n)
		switch {
		case !ok || p.n < minDeadCycles:
			p.looks, p.dead = 0, false
		case p.dead:
			p.dead = seconds > deadSeconds/2 && quiet < 1
		default:
			seems := slow[y] > deadSlowing/float64(b.n) && seconds > deadSeconds && quiet < deadScatter &&
				m.apart == 0 && b.apart(y, &even, &slow) > max(deadApart/float64(b.n), oppositePart*slow[y])
			for o := range b.n {
				seems = seems && (o == y || slow[y] > slow[o]+deadOver)
			}
			if p.looks++; !seems {
				p.looks = 0
			}
			p.dead = p.looks >= deadLooks
		}
	}
}

// apart returns by how much the push of cylinder y slows the crank more than that half a cycle later, half of it; 0
// where there is none: of 36 sound triples, whose butterflies stood apart, 2 were told not to fire (measured).
func (b *beats) apart(y int, even, slow *[MaxCylinders]float64) float64 {
	for o := range b.n {
		off := math.Abs(even[o] - even[y])
		if math.Abs(off-math.Floor(off)-0.5) < 0.5/float64(2*b.n) {
			return (slow[y] - slow[o]) / 2
		}
	}
	return 0
}

// scatterRatio returns by how much the push of cylinder y scatters, over the median of the others'.
func (m *Watch) scatterRatio(y int) float64 {
	var others [MaxCylinders]float64
	n := 0
	for c := range m.beats.n {
		if c != y {
			others[n] = m.pushes[c].scatter
			n++
		}
	}
	if n == 0 {
		return 1
	}
	slices.Sort(others[:n])
	return m.pushes[y].scatter / max(others[(n-1)/2], 1e-9)
}
