package sensor

import "evendraw/internal/pressure"

// Weather is how far the air pressure of a place may be from the standard atmosphere's. Chosen:
// strong highs and lows reach some 4 kPa; the sensors' own errors are left after the median.
const Weather pressure.KPa = 5

// AmbientCheck is how an air pressure stands to the standard atmosphere.
type AmbientCheck struct {
	// Expected is the standard atmosphere's at the altitude.
	Expected pressure.KPa
	// Off is the pressure less Expected.
	Off pressure.KPa
	// Plausible is set when Off is within Weather.
	Plausible bool
}

// CheckAmbient holds an absolute air pressure against the standard atmosphere at an altitude in m
// above sea level (US Standard Atmosphere 1976).
func CheckAmbient(p pressure.KPa, altitudeM float64) AmbientCheck {
	c := AmbientCheck{Expected: pressure.StandardAtmosphere(altitudeM)}
	c.Off = p - c.Expected
	c.Plausible = c.Off >= -Weather && c.Off <= Weather
	return c
}
