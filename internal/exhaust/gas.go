// Package exhaust turns an exhaust gas analyser's reading into lambda.
package exhaust

import (
	"fmt"
	"math"
)

// Fuel is what a fuel is made of, for Brettschneider's formula.
type Fuel struct {
	// HydrogenRatio and OxygenRatio are the atoms of hydrogen and of oxygen to one of carbon.
	HydrogenRatio, OxygenRatio float64
	// HCCarbons is how many atoms of carbon a molecule has of the gas that the
	// analyser's HC reading is in: 6 for hexane.
	HCCarbons float64
}

// Petrol is petrol with some oxygen in it, HC as hexane. Published figures; others give
// 1.7261 of hydrogen and 0.0176 of oxygen (from memory).
var Petrol = Fuel{HydrogenRatio: 1.98, OxygenRatio: 0.017, HCCarbons: 6}

// Gas is an analyser's reading of dry exhaust: CO, CO2 and O2 in percent by volume,
// HC in ppm as hexane (see Fuel.HCCarbons), NO in ppm, 0 where it is not measured.
type Gas struct{ CO, CO2, O2, HCppm, NOppm float64 }

// GasError tells which figure of a reading can't be.
type GasError struct {
	Field string
	Value float64
}

func (e *GasError) Error() string {
	return fmt.Sprintf("%s of %g can't be in exhaust", e.Field, e.Value)
}

// Bounds of a reading. Derived: complete combustion of petrol gives 15.4 % CO2, air
// holds 20.9 % O2; chosen: twice what an analyser reads of the rest.
const (
	mostCO, mostCO2, mostO2 = 20.0, 20.0, 21.0
	mostHC, mostNO          = 60_000.0, 10_000.0
	leastCarbon             = 0.5 // % of CO and CO2: with less there is no exhaust
)

// check returns a GasError for the first figure that can't be.
func (g *Gas) check() error {
	for _, f := range []struct {
		name    string
		v, most float64
	}{{"CO", g.CO, mostCO}, {"CO2", g.CO2, mostCO2}, {"O2", g.O2, mostO2}, {"HC", g.HCppm, mostHC},
		{"NO", g.NOppm, mostNO}} {
		if !(f.v >= 0 && f.v <= f.most) {
			return &GasError{f.name, f.v}
		}
	}
	if g.CO+g.CO2 < leastCarbon || g.CO2 == 0 {
		return &GasError{"CO2", g.CO2}
	}
	return nil
}

// Lambda returns the air/fuel ratio over the stoichiometric one that a reading of dry exhaust tells, by
// Brettschneider's balance of carbon, hydrogen and oxygen (1979):
//
//	[CO2 + CO/2 + O2 + NO/2 + (H/4 · 3.5/(3.5 + CO/CO2) - O/2)(CO2 + CO)]
//	─────────────────────────────────────────────────────────────────────
//	          (1 + H/4 - O/2)(CO2 + CO + n·HC)
//
// all in percent, H and O the fuel's ratios, n its HCCarbons, and 3.5 the constant of the water-gas balance. Air that
// leaks into the exhaust reads lean: 5 % of it by 5 %. A figure that can't be is a GasError. Worked value: CO 0.16, CO2
// 15.24, O2 0.86, HC 72 ppm gives 1.030 for Petrol; published 1.03.
func (g Gas) Lambda(f Fuel) (float64, error) {
	if err := g.check(); err != nil {
		return math.NaN(), err
	}
	const waterGas = 3.5
	hc, no := g.HCppm/1e4, g.NOppm/1e4
	carbon := g.CO2 + g.CO
	oxygen := g.CO2 + g.CO/2 + g.O2 + no/2 + (f.HydrogenRatio/4*waterGas/(waterGas+g.CO/g.CO2)-f.OxygenRatio/2)*carbon
	return oxygen / ((1 + f.HydrogenRatio/4 - f.OxygenRatio/2) * (carbon + f.HCCarbons*hc)), nil
}
