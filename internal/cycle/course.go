package cycle

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// course is a refill as a sensor feels it, by places of a mean refill. The runner's
// pressure P, a ratio to ambient, goes by
//
//	P' = pace psi(P)
//
// until it is that of the air, and what hose and sensor pass on by
//
//	y' = (P - y) / lag
//
// from what was felt at the beginning. A mere delay would leave the course as it is: the
// lag shows in how y bends, most of all where the runner is just full.
type course struct {
	pace   float64 // 1/place
	middle float64 // the place where P, only held back by the lag, passes refillMiddle
	lag    float64 // places
	first  float64 // y at the beginning
	offset float64 // what the sensor reads more than y: its zero has drifted
}

// The unknowns of a course, in the order of its fields.
const (
	ofPace = iota
	ofMiddle
	ofLag
	ofFirst
	ofOffset
	unknowns
)

// moved returns the course with its unknowns moved by x.
func (q course) moved(x [unknowns]float64) course {
	return course{q.pace + x[ofPace], q.middle + x[ofMiddle], q.lag + x[ofLag], q.first + x[ofFirst], q.offset + x[ofOffset]}
}

// fill writes what is read from place from to before end. Between places P goes straight.
func (q *course) fill(y *[places]float64, from, end int) {
	keep := math.Exp(-1 / q.lag)
	part := (1 - keep) * q.lag
	start := q.middle - q.lag - refillMiddle/q.pace
	old := filled((float64(from) - start) * q.pace)
	v := q.first
	y[from] = v + q.offset
	for p := from + 1; p < end; p++ {
		now := filled((float64(p) - start) * q.pace)
		v = keep*v + (part-keep)*old + (1-part)*now
		y[p] = v + q.offset
		old = now
	}
}

// Constants of the fit of a course.
const (
	// moveSmall is the step of a slope, in units of each unknown, and unitPlaces such a
	// unit: one in which y moves about as much as by the others.
	moveSmall  = 1e-4
	unitPlaces = 100.0
	// moveMost is how much of itself pace and lag move in a round. Chosen.
	moveMost = 0.5
	// halvings of a move that makes the fit worse, at most. Chosen.
	halvings = 4
)

// prior is what is known of a course before it is fitted: which lag is expected, and
// the weights of that and of no offset; the least lag there is.
type prior struct{ lag, lagWeight, offsetWeight, least float64 }

// cost is what a course's departure from that counts, beside the squares of the fit.
func (b *prior) cost(q *course) float64 {
	return b.lagWeight*(q.lag-b.lag)*(q.lag-b.lag) + b.offsetWeight*q.offset*q.offset
}

// courseFit fits courses to a mean refill.
type courseFit struct {
	y, trial [places]float64
	slope    [unknowns][places]float64
	normal   mat.SymDense
	cholesky mat.Cholesky
	move     mat.VecDense
}

// improve moves a course by a round of least squares towards the places of a mean refill
// from one to before another. It returns the mean square off the refill.
func (f *courseFit) improve(q *course, ratio *[places]float64, from, end int, known prior) (rest float64) {
	sum := f.off(q, &f.y, ratio, from, end)
	free := float64(end - from - unknowns)
	x, ok := f.step(q, ratio, from, end, &known)
	if !ok {
		return sum / free
	}
	x[ofLag] = max(x[ofLag], known.least-q.lag)
	share := 1 / max(1, math.Abs(x[ofPace])/(moveMost*q.pace), math.Abs(x[ofLag])/(moveMost*q.lag))
	for range halvings {
		for i := range x {
			x[i] *= share
		}
		next := q.moved(x)
		off := f.off(&next, &f.trial, ratio, from, end)
		if off+known.cost(&next) <= sum+known.cost(q) {
			*q = next
			return off / free
		}
		share = 0.5
	}
	return sum / free
}

// off fills in y and returns the sum of squares off the refill.
func (f *courseFit) off(q *course, y, ratio *[places]float64, from, end int) (sum float64) {
	q.fill(y, from, end)
	for p := from; p < end; p++ {
		r := ratio[p] - y[p]
		sum += r * r
	}
	return sum
}

// step returns the move that least squares asks for, f.y being filled in.
func (f *courseFit) step(q *course, ratio *[places]float64, from, end int, known *prior) (x [unknowns]float64, ok bool) {
	unit := [unknowns]float64{q.pace, unitPlaces, unitPlaces, 1, 1}
	for i := range unknowns {
		var small [unknowns]float64
		small[i] = moveSmall * unit[i]
		next := q.moved(small)
		next.fill(&f.trial, from, end)
		for p := from; p < end; p++ {
			f.slope[i][p] = (f.trial[p] - f.y[p]) / moveSmall
		}
	}
	if f.normal.IsEmpty() {
		f.normal, f.move = *mat.NewSymDense(unknowns, nil), *mat.NewVecDense(unknowns, nil)
	}
	for i := range unknowns {
		right := 0.0
		for p := from; p < end; p++ {
			right += f.slope[i][p] * (ratio[p] - f.y[p])
		}
		f.move.SetVec(i, right)
		for j := range i + 1 {
			sum := 0.0
			for p := from; p < end; p++ {
				sum += f.slope[i][p] * f.slope[j][p]
			}
			f.normal.SetSym(i, j, sum)
		}
	}
	f.normal.SetSym(ofLag, ofLag, f.normal.At(ofLag, ofLag)+known.lagWeight*unitPlaces*unitPlaces)
	f.move.SetVec(ofLag, f.move.AtVec(ofLag)+known.lagWeight*unitPlaces*(known.lag-q.lag))
	f.normal.SetSym(ofOffset, ofOffset, f.normal.At(ofOffset, ofOffset)+known.offsetWeight)
	f.move.SetVec(ofOffset, f.move.AtVec(ofOffset)-known.offsetWeight*q.offset)
	if !f.cholesky.Factorize(&f.normal) || f.cholesky.SolveVecTo(&f.move, &f.move) != nil {
		return x, false
	}
	for i := range x {
		x[i] = f.move.AtVec(i) * unit[i]
	}
	return x, true
}
