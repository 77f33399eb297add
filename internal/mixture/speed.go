package mixture

import (
	"cmp"
	"math"

	"evendraw/internal/cycle"
)

// Constants of the speed's statistics.
const (
	// responseS is the time constant with which the idle speed follows what is done to the engine, and so that of its
	// own wander. Measured on the practice engine: 1.6 s on a four.
	responseS = 1.6
	// stepCycles is the memory of the speed's scatter from cycle to cycle, and
	// mostStep how many times the usual a single step may count.
	stepCycles = 60
	mostStep   = 9.0
	// slowS is the memory of the slow mean that the speed is held against, and steadyOff how far off it an idle may be.
	// Chosen: the largest turn that is asked for moves it by half of that; a blip doubles it.
	slowS     = 3.0
	steadyOff = 0.25
	// speedCycles bounds what is kept.
	speedCycles = 256
)

// RangeSide is on which side of its range a speed lies.
type RangeSide string

// Sides.
const (
	SideUnknown RangeSide = ""
	Below       RangeSide = "below"
	Within      RangeSide = "within"
	Above       RangeSide = "above"
)

// speeds keeps the speed of the last cycles since something changed.
type speeds struct {
	first, next int // numbers of the oldest cycle that counts, and of the next
	ring        [speedCycles]cycleSpeed
	step        float64 // mean square of the change from one cycle to the next, rpm²
	steps       int
	slow        float64 // slow mean, rpm
	period      float64 // of the last cycle, s
}

// cycleSpeed is the speed of one cycle.
type cycleSpeed struct{ time, rpm float64 }

func (s *speeds) at(k int) *cycleSpeed { return &s.ring[k%speedCycles] }

// push takes a span. It reports whether the speed is that of an idling engine,
// neither standing nor just blipped; what came before counts no more when not.
func (s *speeds) push(span *cycle.Span) (steady bool) {
	if !span.Cycle || span.Break {
		s.first = s.next
		s.slow = 0
		return false
	}
	rpm := span.RPM()
	s.slow = cmp.Or(s.slow, rpm)
	s.slow += (1 - math.Exp(-span.Period/slowS)) * (rpm - s.slow)
	s.period = span.Period
	if math.Abs(rpm-s.slow) > steadyOff*s.slow {
		s.first = s.next
		return false
	}
	if s.next > s.first {
		s.learnScatter(rpm - s.at(s.next-1).rpm)
	}
	*s.at(s.next) = cycleSpeed{span.End(), rpm}
	s.next++
	s.first = max(s.first, s.next-speedCycles)
	return true
}

// learnScatter takes the change from one cycle to the next into the scatter.
func (s *speeds) learnScatter(change float64) {
	s.steps++
	square := change * change
	if s.steps > stepCycles/4 {
		square = min(square, mostStep*s.step)
	}
	s.step += (square - s.step) / float64(min(s.steps, stepCycles))
}

// restart forgets the speeds before the last one, not their scatter.
func (s *speeds) restart() { s.first = s.next }

func (s *speeds) cycles() int { return s.next - s.first }

// seconds returns for how long the speeds that count have been taken.
func (s *speeds) seconds() float64 {
	if s.cycles() == 0 {
		return 0
	}
	return s.at(s.next-1).time - s.at(s.first).time + s.period
}

// mean averages the last n speeds, all that count at most; NaN of none.
func (s *speeds) mean(n int) float64 {
	n = min(n, s.cycles())
	sum := 0.0
	for k := s.next - n; k < s.next; k++ {
		sum += s.at(k).rpm
	}
	return sum / float64(n)
}

// standardError returns the standard error of the mean of n speeds, about the speed that the engine would settle on:
// that of a first-order autoregressive series of time constant responseS, or of the speeds' own scatter where that is
// more. NaN while the scatter is unknown.
//
//	var = s²/n [(1+r)/(1-r) - 2r(1-rⁿ)/(n(1-r)²)],  s² = step/(2(1-r)),  r = exp(-period/responseS)
func (s *speeds) standardError(n int) float64 {
	return s.seriesError(n, s.variance(min(n, s.cycles())))
}

// seriesError is the standard error by the steps from cycle to cycle, or by a variance of the speeds where that is
// more; with 0 a trend counts for nothing.
func (s *speeds) seriesError(n int, variance float64) float64 {
	n = min(n, s.cycles())
	if n == 0 || s.steps < leastSteps {
		return math.NaN()
	}
	r := math.Exp(-s.period / responseS)
	v := max(s.step/(2*(1-r)), variance)
	m := float64(n)
	return math.Sqrt(v / m * ((1+r)/(1-r) - 2*r*(1-math.Pow(r, m))/(m*(1-r)*(1-r))))
}

// leastSteps is how many changes the scatter is known from. Chosen: a second.
const leastSteps = 8

// variance is that of the last n speeds about their mean.
func (s *speeds) variance(n int) float64 {
	mean, sum := s.mean(n), 0.0
	for k := s.next - n; k < s.next; k++ {
		d := s.at(k).rpm - mean
		sum += d * d
	}
	return sum / float64(n)
}

// slope returns how fast the speed changes now, rpm/s, from the last 2n cycles; 0 where there are fewer.
func (s *speeds) slope(n int) float64 {
	if s.cycles() < 2*n {
		return 0
	}
	now := s.mean(n)
	then := 2*s.mean(2*n) - now
	return (now - then) / (float64(n) * s.period)
}
