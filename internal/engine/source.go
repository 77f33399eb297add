package engine

import (
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// hoseHold is what a hose's end is on instead of its own runner.
type hoseHold struct {
	on  bool    // at kPa, instead of a runner
	kPa float64 // absolute
}

// Tee puts the hoses of all sensors on the runner of one cylinder, counted from 1, by a tee; 0 puts each
// back on its own. The tee's own volume is left out.
func (e *Engine) Tee(cylinder int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder < 0 || cylinder > e.n {
		return
	}
	e.heldHose = [bank.MaxCylinders]hoseHold{}
	for i := range e.n {
		if e.hoseOn[i] = cylinder - 1; cylinder == 0 {
			e.hoseOn[i] = e.configuredHose(i)
		}
	}
}

// MendHoses puts every hose on its own cylinder's port, as a mechanic does who has traced them. It reports whether one
// was on another's.
func (e *Engine) MendHoses() (swapped bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range e.n {
		swapped = swapped || e.hoseOn[i] != i
		e.hoseOn[i] = i
	}
	return swapped
}

// Pump holds the hoses of all sensors at a pressure below ambient, as a hand pump on a common tee does;
// Free lets them go.
func (e *Engine) Pump(vacuum pressure.KPa) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range e.n {
		e.heldHose[i] = hoseHold{true, float64(e.config.Ambient - vacuum)}
	}
}

// Suck holds the hose of one cylinder's sensor, counted from 1, at a pressure below ambient, as a mouth
// does; Free lets it go.
func (e *Engine) Suck(cylinder int, vacuum pressure.KPa) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		e.heldHose[cylinder-1] = hoseHold{true, float64(e.config.Ambient - vacuum)}
	}
}

// Free lets go of the hoses that Pump or Suck holds.
func (e *Engine) Free() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.heldHose = [bank.MaxCylinders]hoseHold{}
}

// SensorErrors sets the offset and the gain (1 is true) of the sensor of a cylinder, counted from 1:
// reading = gain pressure + offset, so that both show at ambient.
func (e *Engine) SensorErrors(cylinder int, offset pressure.KPa, gain float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		e.channel[cylinder-1].offset, e.channel[cylinder-1].gain = float64(offset), gain
	}
}

// SensorGains returns the true gains of the cylinders' sensors.
func (e *Engine) SensorGains() (gains []float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range e.n {
		gains = append(gains, e.channel[i].gain)
	}
	return gains
}
