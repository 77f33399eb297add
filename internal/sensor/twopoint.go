package sensor

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// TwoPointWord begins the name of a kind made of two points.
const TwoPointWord = "two-point"

// twoPointExample is such a name, for the generic automotive sensor.
const twoPointExample = "two-point 20kPa=0.79V 101.32kPa=4.00V"

// Bounds of a two-point kind. Chosen: a flatter or narrower sensor shows nothing of a bank; the
// error band is that of the generic sensor.
const (
	twoPointMinKPa   = 5.0
	twoPointMinRatio = 0.02
	twoPointError    = pressure.KPa(2.5)
)

// twoPoint is what a user knows of a sensor: what it gives at two pressures.
type twoPoint struct {
	KPa, Volts [2]float64
	// Gauge is set when the pressures are relative to ambient, vacuum negative.
	Gauge bool
	// Supply is the supply in V at which that was; 0 is 5.
	Supply float64
}

// ParseTwoPoint reads what follows TwoPointWord: "20kPa=0.79V 101.32kPa=4.00V", and after it
// "gauge" where the pressures are relative to ambient (vacuum negative), and "at 5.1V" where
// the supply was not 5 V.
func ParseTwoPoint(text string) (Kind, error) {
	var t twoPoint
	wrong := func(problem string) (Kind, error) {
		return Kind{}, fmt.Errorf("%s %s: %s; write it as in %q", TwoPointWord, text, problem, twoPointExample)
	}
	points := 0
	words := strings.Fields(text)
	for i := 0; i < len(words); i++ {
		p, v, isPoint := strings.Cut(words[i], "=")
		switch {
		case isPoint && points < 2:
			var errP, errV error
			t.KPa[points], errP = withUnit(p, "kpa")
			t.Volts[points], errV = withUnit(v, "v")
			if errP != nil || errV != nil {
				return wrong(fmt.Sprintf("%q is no kPa=V", words[i]))
			}
			points++
		case words[i] == "gauge":
			t.Gauge = true
		case words[i] == "at" && i+1 < len(words):
			i++
			var err error
			if t.Supply, err = withUnit(words[i], "v"); err != nil {
				return wrong(fmt.Sprintf("%q is no supply in V", words[i]))
			}
		default:
			return wrong(fmt.Sprintf("%q has no place in it", words[i]))
		}
	}
	if points != 2 {
		return wrong("two points are needed")
	}
	return t.kind()
}

// withUnit reads a number that may carry its unit.
func withUnit(text, unit string) (float64, error) {
	return plain.Decimal(strings.TrimSuffix(strings.ToLower(text), unit))
}

// kind returns the kind with the straight line through both points. It fails when they are
// too close together or beyond the supply.
func (t twoPoint) kind() (Kind, error) {
	supply := t.Supply
	if supply == 0 {
		supply = 5
	}
	fail := func(format string, args ...any) (Kind, error) {
		return Kind{}, fmt.Errorf("%s: %s", TwoPointWord, fmt.Sprintf(format, args...))
	}
	if !(supply >= 1 && supply <= 15) {
		return fail("a supply of %g V is none of a sensor's", supply)
	}
	for i := range 2 {
		if !(t.Volts[i] >= 0 && t.Volts[i] <= supply) {
			return fail("%g V is not from 0 to the supply of %g V", t.Volts[i], supply)
		}
		if !t.Gauge && t.KPa[i] < 0 || math.Abs(t.KPa[i]) > 1000 {
			return fail("%g kPa is no pressure of this job", t.KPa[i])
		}
	}
	dp, dr := t.KPa[1]-t.KPa[0], (t.Volts[1]-t.Volts[0])/supply
	if math.Abs(dp) < twoPointMinKPa || math.Abs(dr) < twoPointMinRatio {
		return fail("the points are too close together to draw a line through: %g kPa and %g V apart", math.Abs(dp),
			math.Abs(t.Volts[1]-t.Volts[0]))
	}
	k := Kind{About: "free kind through two points", Slope: dr / dp, Gauge: t.Gauge, Error: twoPointError,
		Source: "the user's two points; error band chosen, range the supply's"}
	k.Intercept = t.Volts[0]/supply - k.Slope*t.KPa[0]
	ends := [2]pressure.KPa{k.Pressure(railMargin), k.Pressure(1 - railMargin)}
	k.Least, k.Most = min(ends[0], ends[1]), max(ends[0], ends[1])
	k.Name = fmt.Sprintf("%s %gkPa=%gV %gkPa=%gV", TwoPointWord, t.KPa[0], t.Volts[0], t.KPa[1], t.Volts[1])
	if t.Gauge {
		k.Name += " gauge"
	}
	if supply != 5 {
		k.Name += fmt.Sprintf(" at %gV", supply)
	}
	return k, nil
}
