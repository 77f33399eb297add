package cycle

import (
	"math"

	"evendraw/internal/nozzle"
)

// course is a refill as a sensor feels it. Time counts in places of a mean refill. The
// runner's pressure P, a ratio to ambient, and what hose and sensor pass on, y, go by
//
//	P' = pace psi(P)   until P is 1
//	y' = (P - y) / lag
//
// The lag shows in how y bends, most of all where the runner is just full; a mere delay would not bend it.
type course struct {
	pace   float64 // 1/place
	middle float64 // the place where P, delayed by the lag, passes refillMiddle
	lag    float64 // places
	first  float64 // y at the first place
	offset float64 // what the sensor reads too much: its zero has drifted
	jet    bool    // not a lag but a jet: see jet.go
	after  float64 // the lag behind that, places
}

// The unknowns of a course, in the order of its fields.
const (
	ofPace = iota
	ofMiddle
	ofLag
	ofFirst
	ofOffset
	ofAfter
	unknowns
)

// moved returns the course with its unknowns moved by x.
func (q course) moved(x [unknowns]float64) course {
	return course{
		q.pace + x[ofPace], q.middle + x[ofMiddle], q.lag + x[ofLag], q.first + x[ofFirst], q.offset + x[ofOffset],
		q.jet, q.after + x[ofAfter],
	}
}

// fill writes y + offset for the places from until before end. It solves the equation for y
// exactly, with P straight from one place to the next.
func (q *course) fill(y *[refillPlaces]float64, from, end int) {
	if q.jet {
		q.fillJet(y, from, end)
		return
	}
	keep := math.Exp(-1 / q.lag)
	part := (1 - keep) * q.lag
	start := q.middle - q.lag - refillMiddle/q.pace
	old := nozzle.Ratio((float64(from) - start) * q.pace)
	v := q.first
	y[from] = v + q.offset
	for p := from + 1; p < end; p++ {
		now := nozzle.Ratio((float64(p) - start) * q.pace)
		v = keep*v + (part-keep)*old + (1-part)*now
		y[p] = v + q.offset
		old = now
	}
}

// Constants of the fit of a course.
const (
	// slopeStep is by how much an unknown moves to find its slope, in its unit. unitPlaces
	// is the unit of middle and lag: y moves by it about as much as by the others' units.
	slopeStep  = 1e-4
	unitPlaces = 100.0
	// maxMoveShare is the most that pace and lag change in a round, as a share. Chosen.
	maxMoveShare = 0.5
	// maxTries is how many moves are tried in a round, each half of the last. For a jet, whose fit goes astray by that,
	// it is jetTries, each damped by dampingStep times as much as the last, the first not at all, the second by
	// leastDamping; a lag's, of few refills, are worse by that (measured). Chosen.
	maxTries     = 4
	jetTries     = 8
	leastDamping = 1e-3
	dampingStep  = 10.0
	// minPivot is the least share of a diagonal that the other unknowns leave. Chosen: beyond it all is rounding.
	minPivot = 1e-15
)

// prior is what is known of a course before it is fitted: the lag that is expected and the
// weight of that, the weight of an offset of 0, and the shortest lag.
type prior struct{ lag, lagWeight, offsetWeight, minLag, after, afterWeight float64 }

// cost is what a course's departure from the prior adds to the sum of squares.
func (b *prior) cost(q *course) float64 {
	return b.lagWeight*(q.lag-b.lag)*(q.lag-b.lag) + b.offsetWeight*q.offset*q.offset +
		b.afterWeight*(q.after-b.after)*(q.after-b.after)
}

// courseFit fits courses to a mean refill.
type courseFit struct {
	y, trial [refillPlaces]float64
	slope    [unknowns][refillPlaces]float64
	n        int // unknowns in use: a lag alone has no lag behind it
	normal   [unknowns][unknowns]float64
	right    [unknowns]float64
	usual    float64 // the median lag of the other hoses, s, 0 while none is known
	zeroSD   float64 // how far the sensors' zeros may be off, as a ratio to ambient: 0 with a zero pass
}

// improve moves a course by one round of least squares towards a mean refill, from place from until before
// end: Gauss and Newton's, a jet's Levenberg's (1944) and Marquardt's (1963). It returns the mean square that is left.
func (f *courseFit) improve(q *course, ratio *[refillPlaces]float64, from, end int, known prior) (rest float64) {
	sum := f.squaredError(q, &f.y, ratio, from, end)
	free := float64(end - from - unknowns)
	f.linearise(q, ratio, from, end, &known)
	tries, part, damping := maxTries, 1.0, 0.0
	if q.jet {
		tries = jetTries
	}
	for range tries {
		x, ok := f.solve(q, damping)
		if !ok {
			break
		}
		x[ofLag] = max(x[ofLag], known.minLag-q.lag)
		x[ofAfter] = max(x[ofAfter], known.minLag-q.after)
		share := part / max(1, math.Abs(x[ofPace])/(maxMoveShare*q.pace), math.Abs(x[ofLag])/(maxMoveShare*q.lag))
		for i := range x {
			x[i] *= share
		}
		next := q.moved(x)
		off := f.squaredError(&next, &f.trial, ratio, from, end)
		if off+known.cost(&next) <= sum+known.cost(q) {
			*q = next
			return off / free
		}
		if q.jet {
			damping = max(damping*dampingStep, leastDamping)
		} else {
			part /= 2
		}
	}
	return sum / free
}

// fit is improve for some rounds; a jet's end with one that gains little.
func (f *courseFit) fit(q *course, ratio *[refillPlaces]float64, from, end, rounds int, known *prior) (rest float64) {
	for n := range rounds {
		before := rest
		rest = f.improve(q, ratio, from, end, *known)
		if q.jet && n > 0 && before-rest < convergedShare*before {
			break
		}
	}
	return rest
}

// squaredError writes the course to y and returns the sum of its squares off the refill.
func (f *courseFit) squaredError(q *course, y, ratio *[refillPlaces]float64, from, end int) (sum float64) {
	q.fill(y, from, end)
	for p := from; p < end; p++ {
		r := ratio[p] - y[p]
		sum += r * r
	}
	return sum
}

// units returns the units in which the unknowns are solved for.
func (q *course) units() [unknowns]float64 {
	return [unknowns]float64{q.pace, unitPlaces, unitPlaces, 1, 1, unitPlaces}
}

// linearise sets up the equations of the move x that least squares asks for; f.y must hold the course. With the
// slopes J of y by the unknowns, and the prior's weights W and departures w on the diagonal,
//
//	(JᵀJ + W) x = Jᵀ (ratio - y) + W w
func (f *courseFit) linearise(q *course, ratio *[refillPlaces]float64, from, end int, known *prior) {
	unit := q.units()
	f.n = unknowns
	if !q.jet {
		f.n = ofAfter
	}
	for i := range f.n {
		slope := &f.slope[i]
		switch {
		case i == ofOffset:
			for p := from; p < end; p++ {
				slope[p] = 1
			}
		case i == ofFirst && !q.jet: // what was felt at first fades
			keep, now := math.Exp(-1/q.lag), 1.0
			for p := from; p < end; p++ {
				slope[p] = now
				now *= keep
			}
		default:
			var small [unknowns]float64
			small[i] = slopeStep * unit[i]
			next := q.moved(small)
			next.fill(slope, from, end)
			for p := from; p < end; p++ {
				slope[p] = (slope[p] - f.y[p]) / slopeStep
			}
		}
	}
	var left [refillPlaces]float64
	for p := from; p < end; p++ {
		left[p] = ratio[p] - f.y[p]
	}
	for i := range f.n {
		f.right[i] = dot(f.slope[i][from:end], left[from:end])
		for j := range i + 1 {
			f.normal[i][j] = dot(f.slope[i][from:end], f.slope[j][from:end])
		}
	}
	const square = unitPlaces * unitPlaces
	f.expect(ofLag, known.lagWeight*square, (known.lag-q.lag)/unitPlaces)
	f.expect(ofOffset, known.offsetWeight, -q.offset)
	f.expect(ofAfter, known.afterWeight*square, (known.after-q.after)/unitPlaces)
}

// expect adds to the equations that an unknown is expected to move by so much, in its unit.
func (f *courseFit) expect(unknown int, weight, move float64) {
	f.normal[unknown][unknown] += weight
	f.right[unknown] += weight * move
}

func dot(a, b []float64) (sum float64) {
	b = b[:len(a)]
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// solve solves them, with the diagonal larger by the share damping, by Cholesky's L Lᵀ; ok is false where they do not
// tell the unknowns apart.
func (f *courseFit) solve(q *course, damping float64) (x [unknowns]float64, ok bool) {
	l := f.normal
	for i := range f.n {
		l[i][i] *= 1 + damping
		x[i] = f.right[i]
		for j := range i + 1 {
			l[i][j] -= dot(l[i][:j], l[j][:j])
			if j < i {
				l[i][j] /= l[j][j]
			}
		}
		if !(l[i][i] > minPivot*f.normal[i][i]) {
			return x, false
		}
		l[i][i] = math.Sqrt(l[i][i])
		x[i] = (x[i] - dot(l[i][:i], x[:i])) / l[i][i]
	}
	unit := q.units()
	for i := f.n - 1; i >= 0; i-- {
		for j := i + 1; j < f.n; j++ {
			x[i] -= l[j][i] * x[j]
		}
		x[i] /= l[i][i]
	}
	for i := range x {
		x[i] *= unit[i]
	}
	return x, true
}

// lay lays out the equations of a course that is not to be moved.
func (f *courseFit) lay(q *course, ratio *[refillPlaces]float64, from, end int, known *prior) {
	q.fill(&f.y, from, end)
	f.linearise(q, ratio, from, end, known)
}

// lagVariance returns the variance of the lag of a course, places², where a place of the mean refill has the variance
// noise; the equations are those of the last round.
func (f *courseFit) lagVariance(q *course, noise float64) float64 {
	f.right = [unknowns]float64{ofLag: 1}
	x, ok := f.solve(q, 0)
	if !ok {
		return math.Inf(1)
	}
	return noise * x[ofLag] * unitPlaces
}
