// Package sensor turns the board's raw counts into absolute pressures: the
// catalogue of sensor kinds, the converter, and the zero pass that learns each
// sensor's offset with the engine off.
//
// Converter is the stage from frames to samples; ZeroPass watches samples.
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
	// Source names the document that the figures come from.
	Source string
}

// Pressure returns P for a ratio Vout/Vs.
func (k *Kind) Pressure(ratio float64) pressure.KPa {
	return pressure.KPa((ratio - k.Intercept) / k.Slope)
}

// Ratio is the inverse of Pressure.
func (k *Kind) Ratio(p pressure.KPa) float64 { return float64(p)*k.Slope + k.Intercept }

// DefaultKind is the kind that is assumed until a board card says otherwise.
const DefaultKind = "MPX4115A"

// catalogue holds the known kinds. Figures are those of the makers' data
// sheets as quoted by public copies; where one is from memory it is said.
var catalogue = []Kind{
	{"MPX4115A", "absolute, 15 to 115 kPa", 0.009, -0.095, false, 15, 115, 1.5,
		"MPX4115A data sheet, transfer function and error band"},
	{"MPXA6115A", "absolute, 15 to 115 kPa", 0.009, -0.095, false, 15, 115, 1.5,
		"MPXA6115A data sheet: range; transfer function from memory"},
	{"MPX4250A", "absolute, 20 to 250 kPa", 0.004, -0.04, false, 20, 250, 3.45,
		"MPX4250A data sheet: transfer function; error band from memory"},
	{"MPX5700", "absolute, 0 to 700 kPa: coarse for this job", 0.0012858, 0.04, false, 0, 700, 17.5,
		"MPX5700 data sheet, transfer function; error band 2.5 % of span from memory"},
	{"MPXV6115V", "vacuum below ambient, 0 to 115 kPa", 0.007652, 0.92, true, -115, 0, 1.7,
		"MPXV6115V data sheet, transfer function; error band from memory"},
	// The straight line through the printed ends, 20.0 kPa at 0.79 V and
	// 101.32 kPa at 4.00 V of 5 V; the printed middle, 46.66 kPa at 1.84 V,
	// lies on it within 0.002 V.
	{"automotive-1bar", "absolute, generic three-wire, about 1 bar", (4.00 - 0.79) / 5 / (101.32 - 20.0),
		0.79/5 - 20.0*(4.00-0.79)/5/(101.32-20.0), false, 15, 110, 2.5,
		"car service tables, three points; range and error band chosen"},
}

// Catalogue returns the known kinds.
func Catalogue() []Kind { return append([]Kind(nil), catalogue...) }

// ParseKind returns the kind of that name, upper or lower case alike.
func ParseKind(name string) (Kind, error) {
	var names []string
	for _, k := range catalogue {
		if strings.EqualFold(k.Name, name) {
			return k, nil
		}
		names = append(names, k.Name)
	}
	return Kind{}, fmt.Errorf("sensor: unknown kind %q, known are %s", name, strings.Join(names, ", "))
}
