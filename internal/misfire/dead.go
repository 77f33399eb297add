package misfire

import "math"

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
	// deadOver is by how much the slowing stands over every other push's. Chosen.
	deadOver = 0.01
	// mostSlowing, over the number of cylinders, is what a missing push slows the crank by at most, and mostScatters
	// over the least scatter of the other pushes: combustion at idle scatters. Chosen; measured on fours with a dead
	// cylinder: 0.78 at 500 rpm, 38 scatters. Beyond, a hose is other than it seems.
	mostSlowing  = 1.2
	mostScatters = 60.0
	// The push scatters less than any other does: the ratio of the squares, of n cycles, is below mostQuiet, and by
	// quietSDs standard deviations, √(6/n) of its logarithm, below 1 (derived, for differences of successive cycles
	// of a normal distribution; by chance one of four alike is ever that quiet in 1 of 300 engines). Chosen; dead
	// cylinders measured: 0.1 to 0.7, most below 0.3; sound ones 0.6 and more in 60 cycles. stillQuiet is the ratio up
	// to which a cylinder that was told stays so.
	mostQuiet  = 0.4
	quietSDs   = 2.6
	stillQuiet = 0.7
	// clipSDs is how many standard deviations a slowing counts as at most. Chosen.
	clipSDs = 3.0
	// minDeadCycles is how many cycles it takes, and deadLooks how many looks in a row, deadEvery cycles apart, a calm
	// engine between them. Chosen: two or three seconds; the first look after a blip may be wrong (measured).
	minDeadCycles = 8
	deadLooks     = 3
	deadEvery     = 2
)

// findDead looks for a cylinder that never fires.
func (m *Watch) findDead(y *Cycle) {
	b := &m.beats
	even, isEven := b.evenPlaces()
	var none, lag, raw, slow [MaxCylinders]float64
	known := isEven && y.Lags != nil && b.n > 2
	for c := range b.n {
		if y.Lags != nil {
			lag[c] = y.Lags[c] / y.Period
		}
	}
	for c := range b.n {
		if raw[c] = math.Inf(-1); isEven {
			raw[c] = b.usualSlowing(c, &even, &none)
		}
		if slow[c] = math.Inf(-1); known {
			slow[c] = b.usualSlowing(c, &even, &lag)
		}
	}
	for c := range b.n {
		p := &m.pushes[c]
		seconds := slow[c] * y.Period / float64(b.n)
		strained := m.seemsDead(y, c, &raw, &slow)
		if p.strained++; !strained {
			p.strained = 0
		}
		switch {
		case p.n < minDeadCycles:
			p.looks, p.dead = 0, false
		case p.dead:
			seen := seconds > deadSeconds/2 && m.quiet(c, slow[c]) < stillQuiet
			p.dead = seen || y.draws(stillStrained*strainedDraw) && m.quiet(c, 0) < stillQuiet
		default:
			seems := known && slow[c] > deadSlowing/float64(b.n) && slow[c] < mostSlowing/float64(b.n) &&
				seconds > deadSeconds && m.apart == 0 &&
				b.apart(c, &even, &slow) > max(deadApart/float64(b.n), oppositePart*slow[c])
			for o := range b.n {
				seems = seems && (o == c || slow[c] > slow[o]+deadOver)
			}
			if p.looks++; !seems {
				p.looks = 0
			}
			p.dead = p.looks >= deadLooks && m.quiet(c, slow[c]) < min(mostQuiet, p.surelyQuiet()) ||
				p.strained >= strainedLooks
		}
	}
}

// surelyQuiet is the ratio of squares below which a push is surely quieter than the others.
func (p *pushes) surelyQuiet() float64 {
	return math.Exp(-quietSDs * math.Sqrt(6/float64(min(p.n, slowingsKept))))
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

// quiet returns the ratio of the squares by which the push of cylinder y, that slows the crank by slow in the mean, and
// that of the others which does so least, scatter from cycle to cycle; 1 where all scatter too little for combustion.
func (m *Watch) quiet(y int, slow float64) float64 {
	least := math.Inf(1)
	for c := range m.beats.n {
		if c != y {
			least = min(least, m.pushes[c].square())
		}
	}
	if slow > mostScatters*math.Sqrt(least) {
		return 1
	}
	return m.pushes[y].square() / least
}

// square returns the square of the standard deviation of slowings, by the differences of successive ones: usual places
// that are still being learned, and a speed that is still settling, have all drift (von Neumann, 1941; from memory).
func (p *pushes) square() float64 {
	n := min(p.n, slowingsKept)
	clip, sum := 2*clipSDs*clipSDs*p.scatter*p.scatter, 0.0
	for i := 1; i < n; i++ {
		d := p.last[(p.n-i)%slowingsKept] - p.last[(p.n-i-1)%slowingsKept]
		sum += min(d*d, clip)
	}
	return sum / float64(2*(n-1))
}
