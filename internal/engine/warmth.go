package engine

import "math"

// Warming up.
const (
	// Kelvin above the air: warmRiseK from where on the engine is warm, startRiseK where one
	// that is warm at the start begins, hotRiseK where an idling, standing, air-cooled one
	// would end. heatS and coolS are the time constants of getting there and of cooling
	// down. Chosen: warm after about four minutes.
	warmRiseK  = 60.0
	startRiseK = 75.0
	hotRiseK   = 140.0
	heatS      = 420.0
	coolS      = 1200.0
	// coldFriction is the share of friction that cold oil adds. Chosen.
	coldFriction = 0.30
	// sensorWarmS is how fast the engine warms the sensors beside it, s. Chosen.
	sensorWarmS = 240.0
)

// warmth is the engine's temperature.
type warmth struct {
	airK   float64
	rise   float64 // of the engine above the air, K
	sensor float64 // warmth of the sensors, 0 as the air to 1
}

// newWarmth returns an engine that is cold or warm, its sensors as the air.
func newWarmth(airC float64, cold bool) warmth {
	w := warmth{airK: celsiusK + airC}
	if !cold {
		w.rise = startRiseK
	}
	return w
}

// follow moves the temperatures over a time h in s.
func (w *warmth) follow(h float64, running bool) {
	end, tau := 0.0, coolS
	if running {
		end, tau = hotRiseK, heatS
	}
	w.rise += (end - w.rise) * (1 - math.Exp(-h/tau))
	w.sensor += (w.warm() - w.sensor) * (1 - math.Exp(-h/sensorWarmS))
}

// warm returns how warm the engine is: 0 as the air, 1 at its working temperature and
// above.
func (w *warmth) warm() float64 { return min(w.rise/warmRiseK, 1) }

// friction returns the friction over the warm engine's.
func (w *warmth) friction() float64 { return 1 + coldFriction*(1-w.warm()) }

// air returns the temperatures of the air and of the runners' gas in K.
func (w *warmth) air() (outside, runner float64) { return w.airK, w.airK + runnerRiseK*w.warm() }

// wallK returns the temperature of the cylinders' walls.
func (w *warmth) wallK() float64 { return w.airK + wallRiseK*w.warm() }
