package engine

import (
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// Cycle is the truth of one complete engine cycle of 720 degrees, from one firing
// top dead centre of the first cylinder of the firing order to its next.
type Cycle struct {
	// StartS is when it began, in s of board time; PeriodS how long it took.
	StartS, PeriodS float64
	// Cylinders is how many entries of the arrays count, by cylinder - 1.
	Cylinders int
	// MeanAbsolute is the mean over the cycle of each runner's unfiltered
	// absolute pressure, Draw ambient less that.
	MeanAbsolute, Draw [bank.MaxCylinders]pressure.KPa
	// LowestAbsolute and HighestAbsolute bound it within the cycle.
	LowestAbsolute, HighestAbsolute [bank.MaxCylinders]pressure.KPa

	// Unburnt is set for each cylinder whose charge was lit in this cycle, or right at its end, and did
	// not burn.
	Unburnt [bank.MaxCylinders]bool

	// Running is whether, at its end, the ignition was on and the speed at least
	// 400 rpm.
	Running bool
}

// RPM returns the mean speed over the cycle.
func (c *Cycle) RPM() float64 { return 120 / c.PeriodS }

// Spread returns the largest less the smallest draw of the cycle.
func (c *Cycle) Spread() pressure.KPa {
	least, most := c.Draw[0], c.Draw[0]
	for _, d := range c.Draw[1:c.Cylinders] {
		least, most = min(least, d), max(most, d)
	}
	return most - least
}

// CylinderTruth is one cylinder's part of Truth.
type CylinderTruth struct {
	// Draw is ambient less the runner's unfiltered absolute pressure, averaged over
	// the last complete cycle; of the moment when the crank stands.
	Draw pressure.KPa
	// Opening is the butterfly's effective area over that of cylinder 1.
	Opening float64
	// PilotOut is how many turns out its pilot screw is, PilotBest where it gives most
	// work at sea level; Lambda is the mixture burnt now.
	PilotOut, PilotBest, Lambda float64
}

// Truth is what no sensor knows.
type Truth struct {
	// TimeS is the board time up to which the engine has been simulated, s.
	TimeS float64
	// Running is whether the engine turns by itself; RPM its mean speed over the
	// last complete cycle, 0 at rest and before the first.
	Running bool
	RPM     float64
	// CrankDegrees is where the crank stands, from 0, where the first of the firing order
	// fires, to below 720.
	CrankDegrees float64
	// Cycles is how many cycles have been completed without coming to rest.
	Cycles int
	// Cylinders by cylinder - 1.
	Cylinders []CylinderTruth
	// Spread is the largest less the smallest draw.
	Spread pressure.KPa
	// ScrewTurns is by how much each screw, and StopTurns by how much the throttle
	// stop, has been turned so far, clockwise; Turning whether a hand still turns one.
	ScrewTurns []float64
	// ScrewEffect is each screw's nominal effect on the draw of the cylinders it moves,
	// per clockwise turn near the start at idle. What a turn does relative to the other
	// cylinders is 0.7 to 1.6 times this, more where a butterfly is less open.
	ScrewEffect []pressure.KPa
	StopTurns   float64
	Turning     bool
	// TemperatureC is the engine's temperature in degrees Celsius; Warm goes from 0,
	// as the air, to 1, warm and more.
	TemperatureC, Warm float64
	// The score of a practice: IdlingS is for how many s the engine has run since it was
	// made, TurnsMade by how many turns all screws have been turned, either way, and Moves
	// how often a hand has taken a screw.
	IdlingS float64
	// HeatS is the clock of the heat: forward while the engine runs, back while it stands, at
	// half the pace, or with a fan at the same.
	HeatS     float64
	TurnsMade float64
	Moves     int
}

// tally adds up pressures over the cycle under way.
type tally struct {
	cycle      Cycle   // under way, means as sums in Pa s
	wholeCycle bool    // it began at the beginning
	last       Cycle   // the last complete one
	cycles     int     // complete ones since rest
	report     []Cycle // not yet given to the observer
}

// reset forgets the cycle under way, when the crank is at rest.
func (t *tally) reset() {
	t.wholeCycle, t.cycles = false, 0
}

// shift moves the times of cycles when the board's time is set back by s.
func (t *tally) shift(s float64) {
	t.cycle.StartS -= s
	t.last.StartS -= s
}

// record takes one step: the integral of each runner's pressure over it, the
// pressure before it, and, when a cycle ended in it, which part of it came before
// the end.
func (e *Engine) record(integral, old []float64, wrapped bool, before float64) {
	t := &e.tally
	if e.crank.radS == 0 {
		t.reset()
		return
	}
	c := &t.cycle
	if !wrapped {
		for i, p := range integral {
			c.MeanAbsolute[i] += pressure.KPa(p)
			c.bound(i, pressure.KPa(e.cylinder[i].pressure()/1000))
		}
		return
	}
	// Within a step the pressure goes from old to new as the parabola with this
	// integral; its part before the end:
	var left [bank.MaxCylinders]pressure.KPa
	for i, p := range integral {
		first := partOf(p, old[i]*e.step, e.cylinder[i].pressure()*e.step, before)
		c.MeanAbsolute[i] += pressure.KPa(first)
		left[i] = pressure.KPa(p - first)
	}
	endS := e.timeS + before*e.step
	if t.wholeCycle {
		e.complete(endS)
	}
	t.wholeCycle = true
	t.cycle = Cycle{StartS: endS, Cylinders: e.n, MeanAbsolute: left}
	for i := range old {
		p := pressure.KPa(e.cylinder[i].pressure() / 1000)
		t.cycle.LowestAbsolute[i], t.cycle.HighestAbsolute[i] = p, p
	}
}

// partOf returns the integral from 0 to x of the parabola over 0 to 1 that begins
// at a, ends at b and has the given integral in all.
func partOf(integral, a, b, x float64) float64 {
	c := 3 * (a + b - 2*integral) // of a + (b-a-c)x + c x^2
	return x * (a + x*((b-a-c)/2+x*c/3))
}

func (c *Cycle) bound(i int, p pressure.KPa) {
	c.LowestAbsolute[i] = min(c.LowestAbsolute[i], p)
	c.HighestAbsolute[i] = max(c.HighestAbsolute[i], p)
}

// complete closes the cycle under way.
func (e *Engine) complete(endS float64) {
	t := &e.tally
	c := t.cycle
	c.PeriodS = endS - c.StartS
	c.Running = e.crank.running()
	for i := range e.n {
		c.MeanAbsolute[i] = c.MeanAbsolute[i] / pressure.KPa(1000*c.PeriodS)
		c.Draw[i] = e.config.Ambient - c.MeanAbsolute[i]
	}
	t.last = c
	t.cycles++
	if e.onCycle != nil {
		t.report = append(t.report, c)
	}
}

// OnCycle sets a function f to be called with each complete cycle from now on, in order, by
// the goroutine that reads and after the read in which the cycle ended. f may call the
// engine's methods, except Read. Nil ends it.
func (e *Engine) OnCycle(f func(Cycle)) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.onCycle = f
	e.tally.report = nil
}

// Truth returns the true state where the simulation stands, that is just after
// the last frame simulated.
func (e *Engine) Truth() Truth {
	e.mu.Lock()
	defer e.mu.Unlock()
	t := Truth{
		TimeS: float64(e.board.instant) / float64(e.board.rate), Running: e.crank.running(),
		CrankDegrees: e.crank.degrees, Cycles: e.tally.cycles, StopTurns: e.linkage.stop.at,
		Turning:      e.linkage.turning() || e.pilots.out != e.pilots.want,
		TemperatureC: e.warmth.airK - celsiusK + e.warmth.rise, Warm: e.warmth.warm(),
		IdlingS: e.score.idlingS, HeatS: e.score.heatS,
		TurnsMade: e.linkage.turnsMade() + e.pilots.turnsMade, Moves: e.score.moves,
	}
	now := Cycle{Cylinders: e.n}
	for i := range e.n {
		now.MeanAbsolute[i] = pressure.KPa(e.cylinder[i].pressure() / 1000)
		now.Draw[i] = e.config.Ambient - now.MeanAbsolute[i]
	}
	if t.Cycles > 0 {
		now = e.tally.last
		t.RPM = now.RPM()
	}
	t.Spread = now.Spread()
	for i := range e.n {
		t.Cylinders = append(t.Cylinders, CylinderTruth{
			Draw: now.Draw[i], Opening: e.cylinder[i].area / e.cylinder[0].area,
			PilotOut: e.pilots.out[i], PilotBest: e.pilots.best[i], Lambda: 1 / e.mixture(i),
		})
	}
	for _, s := range e.linkage.screws {
		t.ScrewTurns = append(t.ScrewTurns, s.at)
		t.ScrewEffect = append(t.ScrewEffect, s.effect)
	}
	return t
}
