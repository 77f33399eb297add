package sensor

import (
	"fmt"
	"slices"
	"strings"

	"evendraw/internal/plain"
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
	Name  string
	About string
	// Parts are the full part names that have a nipple for a hose, as a shop has them (from memory of the data
	// sheets' ordering tables); "" is not known.
	Parts     string
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

// CountKPa returns what one count is worth, for a converter of that many bits whose
// reference is the supply.
func (k *Kind) CountKPa(bits int) pressure.KPa {
	step := pressure.KPa(1 / (k.Slope * float64(int(1)<<bits)))
	return max(step, -step)
}

// DefaultKind is the kind that is assumed until a board card says otherwise.
const DefaultKind = "MPX4115A"

// ParseKind returns the kind of that name or full part name, in upper or lower case; a name that begins with
// TwoPointWord is made of its points, see ParseTwoPoint.
func ParseKind(name string) (Kind, error) {
	if word, rest, _ := strings.Cut(strings.TrimSpace(name), " "); strings.EqualFold(word, TwoPointWord) {
		return ParseTwoPoint(rest)
	}
	var names []string
	for _, k := range catalogue {
		if strings.EqualFold(k.Name, name) || slices.Contains(strings.Fields(k.Parts), strings.ToUpper(name)) {
			return k, nil
		}
		names = append(names, k.Name)
	}
	return Kind{}, fmt.Errorf("unknown kind %q; known are %s, and %s with two points as in %q%s",
		name, strings.Join(names, ", "), TwoPointWord, twoPointExample, plain.IsMeant(name, names))
}
