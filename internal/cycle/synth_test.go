package cycle

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/effort"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// synth makes samples of an invented engine whose true cycle means are known:
// pressures by formula or by a small simulation, at eight steps a sample, the
// crank turning at a speed that wanders, then hoses, spikes, noise and counts.
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
	runner  runner
	wander  float64   // rpm rms of a random walk that is pulled back
	misfire float64   // share of charges that don't burn: the crank slows, the next dip is shallow
	sick    int       // the cylinder that misfires, 0 all
	lag     []float64 // s, first order, by cylinder
	spike   float64   // kPa at every spark
	ambient float64
	area    []float64 // butterfly, of the simulated runner, 1/s

	time, turns float64 // turns in cycles
	scale       [8]float64
	before      [8]float64 // the cycle before's
	cycleNo     [8]int
	walk, slow  float64
	state, felt [8]float64
	eased       [8]struct{ lag, share float64 } // share of the way that a hose makes in a step
	spiking     [8]float64
	missed      []missed
	pushed      [8]bool // the push of this cycle has come, or not: unburnt
	unburnt     [8]bool
}

// pushPlace is where in a cylinder's own cycle its push is, half a cycle after its intake.
const pushPlace = 0.64

// missed is one misfire.
type missed struct {
	time     float64
	cylinder int
}

// runner gives a cylinder's pressure after a step to place x of its own cycle.
type runner func(s *synth, c int, x, dt float64) float64

func newSynth(n int) *synth {
	s := &synth{rpm: func(float64) float64 { return 1050 }, noise: 0.08, rate: 1000, count: 0.108,
		rng: rand.New(rand.NewPCG(7, uint64(n))), runner: formula, ambient: 101.3}
	for c := range n {
		s.angles = append(s.angles, 720/float64(n)*float64([]int{0, 1, 3, 2}[c]))
		s.depth = append(s.depth, 50)
		s.base = append(s.base, 88)
		s.lag = append(s.lag, 0.455e-3) // the sensor alone
		s.area = append(s.area, 14)
		s.scale[c], s.cycleNo[c] = 1, -1
		s.state[c], s.felt[c] = 88, math.NaN()
	}
	return s
}

// formula is a quick fall in the intake stroke and a slow refill, which goes on
// until the next cycle's fall.
func formula(s *synth, c int, x, dt float64) float64 {
	fall := 1 / (1 + math.Exp(-(x-0.12)*60))
	old := s.before[c] * (1 - fall) * math.Exp(-(x+0.88)/0.25)
	return s.base[c] - s.depth[c]*(s.scale[c]*fall*math.Exp(-max(0, x-0.12)/0.25)+old)
}

// choked is the ratio of pressures below which a nozzle takes no more, psiChoked what it takes
// there.
const choked = 0.5283

var psiChoked = math.Sqrt(7 * (math.Pow(choked, 2/1.4) - math.Pow(choked, 2.4/1.4)))

// psiSquares are the squares of what a nozzle takes at equal steps of the ratio from choked to 1, and one more for
// the last: smooth up to 1. Measured: with the bound at 1, what comes of them is within 1e-6.
var psiSquares = func() (t [2050]float64) {
	for i := range t[:2049] {
		x := math.Exp(2 / 7. * math.Log(choked+(1-choked)*float64(i)/2048)) // powers of 2/1.4 and 2.4/1.4 are its
		t[i] = 7 * max(0, x*x*x*x*x*(1-x))                                  // fifth and sixth
	}
	return t
}()

// psiAbove is what a nozzle takes at a ratio above choked.
func psiAbove(r float64) float64 {
	x := (r - choked) * (2048 / (1 - choked))
	i := int(x)
	return math.Sqrt(psiSquares[i] + (x-float64(i))*(psiSquares[i+1]-psiSquares[i]))
}

// nozzles simulates a runner: a nozzle's flow in, and the intake stroke's flow
// out in proportion to the pressure.
func nozzles(s *synth, c int, x, dt float64) float64 {
	p := s.state[c]
	draw := 0.0
	if x > 0.08 && x < 0.4 {
		sin := math.Sin((x - 0.08) / 0.32 * math.Pi)
		draw = s.depth[c] / 50 * 75 * s.scale[c] * s.rpm(s.time) / 1050 * sin * sin
	}
	flow := func(p float64) float64 {
		psi, r := psiChoked, min(p/s.ambient, 1)
		if r > choked {
			psi = psiAbove(r)
		}
		return s.area[c]*s.ambient*min(psi, 31*(1-r)) - draw*p
	}
	p += dt * flow(p+dt/2*flow(p)) // midpoint: Euler's steps bend a refill as a ms of lag does
	s.state[c] = p
	return p
}

// waves is a half sine with a wave of 90 Hz running out in the runner after it,
// whose frequency does not follow the crank.
func waves(s *synth, c int, x, dt float64) float64 {
	p := s.base[c]
	d := s.depth[c] * s.scale[c]
	if x < 0.3 {
		return p - d*math.Pow(math.Sin(x/0.3*math.Pi), 2)
	}
	t := (x - 0.3) * 120 / (s.rpm(s.time) + s.walk)
	return p - 0.12*d*math.Exp(-t/0.02)*math.Sin(2*math.Pi*90*t)
}

// some is what a row of a table is tried on: all in a full run, in a plain one a single one,
// the next for each row.
func some[T any](row int, all []T) []T {
	if effort.Whole() {
		return all
	}
	return all[row%len(all):][:1]
}

// truth collects what really happened.
type truth struct {
	time, turns []float64
	p           [][]float64
	lag         []float64 // of the hoses, s
}

// mean returns the mean pressure of cylinder c over exactly one cycle from time
// start, and that cycle's true length.
func (tr *truth) mean(c int, start float64) (mean, period float64) {
	dt := tr.time[1]
	i := max(0, int(start/dt)-1)
	for tr.time[i+1] <= start {
		i++
	}
	share := (start - tr.time[i]) / (tr.time[i+1] - tr.time[i])
	from := tr.turns[i] + share*(tr.turns[i+1]-tr.turns[i])
	var area float64
	t := start
	for ; i+1 < len(tr.time); i++ {
		a, b := tr.time[i], tr.time[i+1]
		last := tr.turns[i+1] >= from+1
		if last {
			b = a + (from+1-tr.turns[i])/(tr.turns[i+1]-tr.turns[i])*(b-a)
		}
		middle := ((t+b)/2 - a) / dt
		area += (tr.p[c][i] + middle*(tr.p[c][i+1]-tr.p[c][i])) * (b - t)
		t = b
		if last {
			break
		}
	}
	return area / (t - start), t - start
}

const fine = 8 // steps a sample

// run feeds seconds of the synth to push and returns the truth.
func (s *synth) run(seconds float64, push func(*sensor.Sample)) *truth {
	steps := int(seconds*s.rate*fine) + 2
	tr := &truth{p: make([][]float64, len(s.angles)), lag: s.lag}
	tr.time, tr.turns = make([]float64, 0, steps), make([]float64, 0, steps)
	for c := range tr.p {
		tr.p[c] = make([]float64, 0, steps)
	}
	dt := 1 / s.rate / fine
	var sample sensor.Sample
	for k := 0; s.time < seconds; k++ {
		if k%fine == 0 {
			sample = sensor.Sample{Time: s.time, N: len(s.angles), Break: k == 0}
		}
		for c := range s.angles {
			p := s.cylinder(c, dt)
			tr.p[c] = append(tr.p[c], p)
			if k%fine == 0 {
				v := s.felt[c] + s.spiking[c] + s.noise*s.rng.NormFloat64()
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
		const back = 2 // s
		if s.wander > 0 {
			s.walk += -s.walk*dt/back + s.wander*math.Sqrt(2*dt/back)*s.rng.NormFloat64()
		}
		s.slow -= s.slow * dt / 0.4
		s.turns += max(0, s.rpm(s.time)+s.walk-s.slow) / 120 * dt
	}
	return tr
}

// cylinder moves one cylinder by a step and returns its true pressure.
func (s *synth) cylinder(c int, dt float64) float64 {
	x := s.turns - s.angles[c]/720
	if n := int(math.Floor(x)); n != s.cycleNo[c] {
		s.cycleNo[c], s.before[c] = n, s.scale[c]
		s.scale[c] = 1 + s.scatter*s.rng.NormFloat64()
		if s.unburnt[c] {
			s.scale[c] *= 0.9 // on the practice engine 0.95
		}
		s.pushed[c], s.unburnt[c] = false, s.rng.Float64() < s.misfire && (s.sick == 0 || s.sick == c+1)
		for i := range s.angles {
			if s.rng.Float64() < 0.5 {
				s.spiking[i] += s.spike
			} else {
				s.spiking[i] -= s.spike
			}
		}
	}
	if !s.pushed[c] && x-math.Floor(x) > pushPlace {
		if s.pushed[c] = true; s.unburnt[c] {
			s.slow += 40
			s.missed = append(s.missed, missed{s.time, c})
		}
	}
	if s.spike > 0 {
		s.spiking[c] *= math.Exp(-dt / 0.5e-3)
	}
	p := s.runner(s, c, x-math.Floor(x), dt)
	if s.felt[c] != s.felt[c] || s.lag[c] == 0 {
		s.felt[c] = p
	} else {
		ease := &s.eased[c]
		if ease.lag != s.lag[c] {
			ease.lag, ease.share = s.lag[c], 1-math.Exp(-dt/s.lag[c])
		}
		s.felt[c] += (p - s.felt[c]) * ease.share
	}
	return p
}
