// Package warmup says whether an engine that idles is still warming up, by what its speed and its draws do together
// over minutes, whatever screws are turned meanwhile. Package balance says which cycles count. Begin with Watch.
package warmup

import "math"

// Of an idle's speed v and mean draw d two figures are followed, each as a share of the speed:
//
//	load = (d + fallPerSpeed ln v) / (risePerSpeed + fallPerSpeed),   air = ln v - d/risePerSpeed
//
// As oil grows thin and fuel burns better an engine runs faster with less air in each stroke: v and d rise together,
// and load with them, while air stays. Where butterflies are opened v rises and d falls a little: air rises, and load
// stays. So does it where runners grow warm, whose air is then thinner. Air counts only while no screw moves.
const (
	// risePerSpeed is by how much draws rise where an idle runs faster by a factor e at the same openings, kPa.
	// Measured on fours and twins of the practice engine 17 to 18, on an engine of another model 19.
	risePerSpeed = 18.0
	// fallPerSpeed is by how much draws fall where butterflies are opened until it runs faster by a factor e, kPa.
	// Measured: 4 and 4 to 10.
	fallPerSpeed = 8.0
)

// Constants of an engine that is still warming up.
const (
	// leastLoad and leastAir are the least stretches of idle that a trend of the load, and of the air, is told from, s.
	// Chosen: air scatters less.
	leastLoad, leastAir = 25.0, 15.0
	// memory is the time after which a figure counts e times less: an engine that has warmed up is seen to idle evenly.
	// Chosen: short beside a warm-up of minutes.
	memory = 45.0
	// blockSeconds is the length of the stretches whose means are looked at. Chosen: idles sway in that time.
	blockSeconds = 4.0
	// trendShare is the change of the speed in a minute that counts, as a share, and trendSigmas how many standard
	// errors it must be off zero. Chosen: a warm idle changes by less than 1 % a minute, a cold one of the practice
	// engine by 3 % (measured).
	trendShare  = 0.02
	trendSigmas = 5.0
	// An engine that was cold counts as warm where the change is below trendWarm of trendShare, or less than
	// warmSigmas standard errors. Chosen, so that the word doesn't flicker.
	trendWarm, warmSigmas = 0.8, 2.0
	// leastSpeed is the part of trendShare by which the speed must change where the load does. Chosen, as turns that
	// shut butterflies take from what warmth adds.
	leastSpeed = 0.25
	// leastAlike and mostAlike bound how alike a stretch is taken to be to the next, as a correlation: of the few that
	// there are it can't be seen well. Chosen: an idle that wanders in 4 s has 0.4.
	leastAlike, mostAlike = 0.3, 0.9
)

// Watch follows an idle.
type Watch struct{ load, air, speed trend }

// Push takes a cycle of a steady idle that ended at t, s, with the speed of the engine, rpm, and the mean draw of its
// cylinders, kPa; touched is set while a screw is turned.
func (w *Watch) Push(t, rpm, draw float64, touched bool) {
	speed := math.Log(rpm)
	w.load.push(t, (draw+fallPerSpeed*speed)/(risePerSpeed+fallPerSpeed), leastLoad)
	w.speed.push(t, speed, leastLoad)
	if touched {
		w.air = trend{}
		return
	}
	w.air.push(t, speed-draw/risePerSpeed, leastAir)
}

// Disturb tells that the idle is disturbed, as by a blip: what comes next is compared with what was before.
func (w *Watch) Disturb() {
	w.load.cycles, w.speed.cycles = 0, 0
	w.air = trend{}
}

// Warming reports whether the engine changes as a cold one does. What a load does the speed does too, if less where
// screws are turned shut.
func (w *Watch) Warming() bool {
	together := w.speed.slope*w.load.slope > 0 && math.Abs(w.speed.slope) > leastSpeed*trendShare/60
	return w.load.moves && together || w.air.moves
}

// trend is the least-squares line through the means v of stretches of time, t in their middle, each with a
// weight w that fades with memory:
//
//	slope = Σw(t-mean t)(v-mean v) / Σw(t-mean t)²
type trend struct {
	// Of the stretch under way: its start, its cycles, and their sum.
	from, sum float64
	cycles    int
	n         float64 // sum of the weights; 0 before the first stretch
	t0, v0    float64 // of the first stretch, from which t and v count
	// Sums of t, v and their products.
	st, sv, stt, stv, svv float64
	lastTime, lastV       float64
	steps, pairs          float64 // squared steps from stretch to stretch, and how many
	slope                 float64 // 1/s; 0 before it is known
	moves                 bool
}

// push takes the figure of a cycle that ended at t, s, and judges what is as long as least, s.
func (f *trend) push(t, v, least float64) {
	if f.cycles == 0 {
		f.from, f.sum = t, 0
	}
	f.cycles++
	f.sum += v
	if t-f.from < blockSeconds {
		return
	}
	f.add((t+f.from)/2, f.sum/float64(f.cycles))
	f.cycles = 0
	if f.lastTime >= least {
		f.judge()
	}
}

// add takes the mean v of a stretch around t, s.
func (f *trend) add(t, v float64) {
	if f.n == 0 {
		f.t0, f.v0 = t, v
	}
	x, y := t-f.t0, v-f.v0
	fade := math.Exp((f.lastTime - x) / memory)
	if f.n > 0 {
		f.steps = fade*f.steps + (y-f.lastV)*(y-f.lastV)
		f.pairs = fade*f.pairs + 1
	}
	f.lastTime, f.lastV = x, y
	f.n = fade*f.n + 1
	f.st = fade*f.st + x
	f.sv = fade*f.sv + y
	f.stt = fade*f.stt + x*x
	f.stv = fade*f.stv + x*y
	f.svv = fade*f.svv + y*y
}

// judge tells from the line whether the engine is cold. Where neighbouring stretches are alike by r, a line's error is
// √((1+r)/(1-r)) times what it is else.
func (f *trend) judge() {
	xx := f.stt - f.st*f.st/f.n
	xy := f.stv - f.st*f.sv/f.n
	yy := f.svv - f.sv*f.sv/f.n
	f.slope = xy / xx
	slope := math.Abs(f.slope)
	rest := max(yy-slope*slope*xx, 0)
	alike := mostAlike
	if rest > 0 {
		step := f.steps/f.pairs - slope*slope*blockSeconds*blockSeconds
		alike = min(max(1-step/(2*rest/f.n), leastAlike), mostAlike)
	}
	slopeError := math.Sqrt(rest / (f.n - 2) / xx * (1 + alike) / (1 - alike))
	switch share := slope * 60; {
	case share > trendShare && slope > trendSigmas*slopeError:
		f.moves = true
	case share < trendWarm*trendShare || slope < warmSigmas*slopeError:
		f.moves = false
	}
}
