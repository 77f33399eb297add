package engine

import (
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// source is what a hose's end is on instead of its own runner.
type source struct {
	held bool    // at kPa, instead of a runner
	kPa  float64 // absolute
}

// Tee puts the hoses of all sensors on the runner of one cylinder, counted from 1, by a tee; 0 puts each
// back on its own. The tee's own volume is left out.
func (e *Engine) Tee(cylinder int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder < 0 || cylinder > e.n {
		return
	}
	e.source = [bank.MaxCylinders]source{}
	for i := range e.n {
		e.tap[i] = i
		switch on := at(e.config.Hoses, i).On; {
		case cylinder > 0:
			e.tap[i] = cylinder - 1
		case on >= 1 && on <= e.n:
			e.tap[i] = on - 1
		}
	}
}

// Pump holds the hoses of all sensors at a pressure below ambient, as a hand pump on a common tee does;
// Free lets them go.
func (e *Engine) Pump(vacuum pressure.KPa) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range e.n {
		e.source[i] = source{true, float64(e.config.Ambient - vacuum)}
	}
}

// Suck holds the hose of one cylinder's sensor, counted from 1, at a pressure below ambient, as a mouth
// does; Free lets it go.
func (e *Engine) Suck(cylinder int, vacuum pressure.KPa) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		e.source[cylinder-1] = source{true, float64(e.config.Ambient - vacuum)}
	}
}

// Free puts the hoses that are pumped or sucked on back where they were.
func (e *Engine) Free() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.source = [bank.MaxCylinders]source{}
}

// SensorErrors gives the sensor of a cylinder, counted from 1, an offset and a gain (1 is true); reading
// is gain times pressure plus offset, so that at ambient it is off by both.
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
