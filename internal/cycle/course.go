package cycle

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// course is a refill as a sensor feels it. Time counts in places of a mean refill. The
// runner's pressure P, a ratio to ambient, and what hose and sensor pass on, y, go by
//
//	P' = pace psi(P)   until P is 1
//	y' = (P - y) / lag
//
// The lag shows in how y bends, most of all where the runner is just full; a mere delay
// would not bend it.
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
	old := refillRatio((float64(from) - start) * q.pace)
	v := q.first
	y[from] = v + q.offset
	for p := from + 1; p < end; p++ {
		now := refillRatio((float64(p) - start) * q.pace)
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
	normal   mat.SymDense
	damped   mat.SymDense
	cholesky mat.Cholesky
	right    mat.VecDense
	move     mat.VecDense
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
	for i := range unknowns {
		var small [unknowns]float64
		small[i] = slopeStep * unit[i]
		next := q.moved(small)
		next.fill(&f.trial, from, end)
		for p := from; p < end; p++ {
			f.slope[i][p] = (f.trial[p] - f.y[p]) / slopeStep
		}
	}
	if f.normal.IsEmpty() {
		f.normal, f.damped = *mat.NewSymDense(unknowns, nil), *mat.NewSymDense(unknowns, nil)
		f.right, f.move = *mat.NewVecDense(unknowns, nil), *mat.NewVecDense(unknowns, nil)
	}
	for i := range unknowns {
		right := 0.0
		for p := from; p < end; p++ {
			right += f.slope[i][p] * (ratio[p] - f.y[p])
		}
		f.right.SetVec(i, right)
		for j := range i + 1 {
			sum := 0.0
			for p := from; p < end; p++ {
				sum += f.slope[i][p] * f.slope[j][p]
			}
			f.normal.SetSym(i, j, sum)
		}
	}
	f.normal.SetSym(ofLag, ofLag, f.normal.At(ofLag, ofLag)+known.lagWeight*unitPlaces*unitPlaces)
	f.right.SetVec(ofLag, f.right.AtVec(ofLag)+known.lagWeight*unitPlaces*(known.lag-q.lag))
	f.normal.SetSym(ofAfter, ofAfter, f.normal.At(ofAfter, ofAfter)+known.afterWeight*unitPlaces*unitPlaces)
	f.right.SetVec(ofAfter, f.right.AtVec(ofAfter)+known.afterWeight*unitPlaces*(known.after-q.after))
	f.normal.SetSym(ofOffset, ofOffset, f.normal.At(ofOffset, ofOffset)+known.offsetWeight)
	f.right.SetVec(ofOffset, f.right.AtVec(ofOffset)-known.offsetWeight*q.offset)
}

// solve solves them, with the diagonal larger by the share damping.
func (f *courseFit) solve(q *course, damping float64) (x [unknowns]float64, ok bool) {
	f.damped.CopySym(&f.normal)
	for i := range unknowns {
		f.damped.SetSym(i, i, f.normal.At(i, i)*(1+damping))
	}
	if !f.cholesky.Factorize(&f.damped) || f.cholesky.SolveVecTo(&f.move, &f.right) != nil {
		return x, false
	}
	unit := q.units()
	for i := range x {
		x[i] = f.move.AtVec(i) * unit[i]
	}
	return x, true
}
