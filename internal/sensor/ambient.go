package sensor

import "evendraw/internal/pressure"

// weatherKPa is how far the air pressure of a place may be from the standard atmosphere's. Chosen:
// strong highs and lows reach some 4 kPa, and the median of the sensors has some error left.
const weatherKPa pressure.KPa = 5

// AmbientCheck compares an air pressure with the standard atmosphere's.
type AmbientCheck struct {
	// Expected is the standard atmosphere's pressure at the altitude.
	Expected pressure.KPa
	// Off is the pressure less Expected.
	Off pressure.KPa
	// Plausible is set when the weather can explain Off.
	Plausible bool
}

// CheckAmbient compares an absolute air pressure with the US Standard Atmosphere 1976 at an altitude
// in m above sea level.
func CheckAmbient(p pressure.KPa, altitudeM float64) AmbientCheck {
	c := AmbientCheck{Expected: pressure.StandardAtmosphere(altitudeM)}
	c.Off = p - c.Expected
	c.Plausible = c.Off >= -weatherKPa && c.Off <= weatherKPa
	return c
}
