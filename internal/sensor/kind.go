// Package sensor turns the board's raw counts into absolute pressures: the
// catalogue of sensor kinds, the converter, the zero pass that learns each
// sensor's offset with the engine off, the match pass that learns its gain, and
// what else makes a rig one that can be trusted.
//
// Converter is the stage from frames to samples; ZeroPass, MatchPass, HoseFinder
// and DriftWatch watch samples, Checkup frames; BudgetOf adds up what is left of
// errors.
package sensor

import (
	"fmt"
	"strings"

	"evendraw/internal/pressure"
)

// Kind is a kind of analogue sensor with a straight transfer function,
// ratiometric to its supply Vs:
//
//	Vout/Vs = Slope·P + Intercept
//
// with P in kPa, absolute, or relative to ambient (positive above it) when
// Gauge is set.
type Kind struct {
	// Name is how a card names the kind; that of a two-point kind holds its points.
	Name      string
	About     string
	Slope     float64 // 1/kPa
	Intercept float64
	Gauge     bool
	// Least and Most bound the range that the maker specifies, in the same
	// sense as P.
	Least, Most pressure.KPa
	// Error is the half-width of the maker's error band from 0 to 85 °C.
	Error pressure.KPa
	// ResponseMS is the time in ms in which the output goes from 10 to 90 % of a step; 0 is
	// unknown.
	ResponseMS float64
	// Source names the document that the figures come from, Memory which of them are
	// from memory only; "" is none.
	Source, Memory string
}

// Pressure returns P for a ratio Vout/Vs.
func (k *Kind) Pressure(ratio float64) pressure.KPa {
	return pressure.KPa((ratio - k.Intercept) / k.Slope)
}

// Ratio is the inverse of Pressure.
func (k *Kind) Ratio(p pressure.KPa) float64 { return float64(p)*k.Slope + k.Intercept }

// ErrorAt returns the half-width of the error band at a temperature of the sensor in
// °C: three times Error at −40, once from 0 to 85, three times at 125 °C, straight
// between; temperatures beyond are taken as the nearest of the two. The multiplier is
// that of the MPX4115A's and MPX4250A's data sheets; the other kinds are taken to have the same.
func (k *Kind) ErrorAt(celsius float64) pressure.KPa {
	factor := 1.0
	switch t := min(max(celsius, -40), 125); {
	case t < 0:
		factor = 1 + 2*t/-40
	case t > 85:
		factor = 1 + 2*(t-85)/40
	}
	return k.Error * pressure.KPa(factor)
}

// CountKPa returns what one count of a converter of that many bits is worth, when its
// reference is the supply.
func (k *Kind) CountKPa(bits int) pressure.KPa {
	step := pressure.KPa(1 / (k.Slope * float64(int(1)<<bits)))
	return max(step, -step)
}

// DefaultKind is the kind that is assumed until a board card says otherwise.
const DefaultKind = "MPX4115A"

// ParseKind returns the kind of that name, upper or lower case alike; a name that begins
// with TwoPointWord is a kind of its own, see ParseTwoPoint.
func ParseKind(name string) (Kind, error) {
	if word, rest, _ := strings.Cut(strings.TrimSpace(name), " "); strings.EqualFold(word, TwoPointWord) {
		return ParseTwoPoint(rest)
	}
	var names []string
	for _, k := range catalogue {
		if strings.EqualFold(k.Name, name) {
			return k, nil
		}
		names = append(names, k.Name)
	}
	return Kind{}, fmt.Errorf("sensor: unknown kind %q; known are %s, and %s with two points as in %q",
		name, strings.Join(names, ", "), TwoPointWord, twoPointExample)
}
