package cycle

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// synth makes samples of an invented engine whose true cycle means are known:
// each cylinder's pressure is a formula of the crank angle, so that the mean
// over any 720 degrees follows by fine integration.
type synth struct {
	angles  []float64 // firing, degrees
	depth   []float64 // kPa of the dip, by cylinder
	base    []float64 // kPa absolute between dips
	rpm     func(t float64) float64
	scatter float64 // of the dip's depth from cycle to cycle
	noise   float64 // kPa rms
	rate    float64 // samples a second
	count   float64 // size of a count in kPa, 0 is none
	rng     *rand.Rand

	time, turns float64 // turns in cycles
	scale       [8]float64
	cycleNo     [8]int
}

func newSynth(n int) *synth {
	s := &synth{rpm: func(float64) float64 { return 1050 }, noise: 0.08, rate: 1000, count: 0.108,
		rng: rand.New(rand.NewPCG(7, uint64(n)))}
	for c := range n {
		s.angles = append(s.angles, 720/float64(n)*float64([]int{0, 1, 3, 2}[c]))
		s.depth = append(s.depth, 50)
		s.base = append(s.base, 88)
		s.scale[c] = 1
		s.cycleNo[c] = -1
	}
	return s
}

// shape is a runner's pulse: a quick fall in the intake stroke and a slow
// refill, 0 to about 1 deep, over one cycle.
func shape(x float64) float64 {
	x -= math.Floor(x)
	fall := 1 / (1 + math.Exp(-(x-0.12)*60))
	return fall * math.Exp(-max(0, x-0.12)/0.25)
}

// pressure returns cylinder c's true pressure at the crank place of the synth.
func (s *synth) pressure(c int, turns float64) float64 {
	x := turns - s.angles[c]/720
	if n := int(math.Floor(x)); n != s.cycleNo[c] {
		s.cycleNo[c] = n
		s.scale[c] = 1 + s.scatter*s.rng.NormFloat64()
	}
	return s.base[c] - s.depth[c]*s.scale[c]*shape(x)
}

// truth collects what really happened.
type truth struct {
	time, turns []float64
	p           [][]float64
}

// mean returns the mean pressure of cylinder c over exactly one cycle from time
// start, and that cycle's true length.
func (tr *truth) mean(c int, start float64) (mean, period float64) {
	i := 0
	for tr.time[i+1] <= start {
		i++
	}
	share := (start - tr.time[i]) / (tr.time[i+1] - tr.time[i])
	from := tr.turns[i] + share*(tr.turns[i+1]-tr.turns[i])
	var area float64
	t := start
	for ; ; i++ {
		a, b := tr.time[i], tr.time[i+1]
		last := tr.turns[i+1] >= from+1
		if last {
			b = a + (from+1-tr.turns[i])/(tr.turns[i+1]-tr.turns[i])*(b-a)
		}
		area += tr.p[c][i] * (b - t)
		t = b
		if last {
			return area / (t - start), t - start
		}
	}
}

// run feeds seconds of the synth to push and returns the truth.
func (s *synth) run(seconds float64, push func(*sensor.Sample)) *truth {
	const fine = 8
	tr := &truth{p: make([][]float64, len(s.angles))}
	dt := 1 / s.rate / fine
	for k := 0; s.time < seconds; k++ {
		sample := sensor.Sample{Time: s.time, N: len(s.angles), Break: k == 0}
		for c := range s.angles {
			p := s.pressure(c, s.turns)
			tr.p[c] = append(tr.p[c], p)
			if k%fine == 0 {
				v := p + s.noise*s.rng.NormFloat64()
				if s.count > 0 {
					v = s.count * (math.Floor(v/s.count) + 0.5)
				}
				sample.Absolute[c] = pressure.KPa(v)
			}
		}
		tr.time = append(tr.time, s.time)
		tr.turns = append(tr.turns, s.turns)
		if k%fine == 0 {
			push(&sample)
		}
		s.time += dt
		s.turns += s.rpm(s.time) / 120 * dt
	}
	return tr
}
