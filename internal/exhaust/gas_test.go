package exhaust

import (
	"errors"
	"math"
	"testing"
)

// Worked rows of a published table of Brettschneider's formula (references: dry
// gases, HC as hexane; published to two digits with other constants, so that a
// hundredth is what can be asked). The last row is told as "rich".
func TestGasPublished(t *testing.T) {
	const tol = 0.01
	for _, row := range []struct{ hc, co, co2, o2, want float64 }{
		{834, 0.01, 13.78, 2.29, 1.07},
		{330, 8.49, 9.93, 0.15, 0.77},
		{72, 0.16, 15.24, 0.86, 1.03},
	} {
		got, err := Gas{CO: row.co, CO2: row.co2, O2: row.o2, HCppm: row.hc}.Lambda(Petrol)
		if err != nil || math.Abs(got-row.want) > tol {
			t.Errorf("%+v: %.4f, %v; want %.2f", row, got, err, row.want)
		}
	}
	if got, _ := (Gas{CO: 0.81, CO2: 13.69, O2: 2.18, HCppm: 2882}).Lambda(Petrol); got >= 1 {
		t.Errorf("the row told as rich gives %.4f", got)
	}
}

// Derived: complete combustion of any fuel with just enough air leaves CO2 and
// neither O2, CO nor HC: lambda 1. A share x of air leaked into that exhaust reads
// lean by it: published, 5 % by 5 %. 1000 ppm of NO count as 0.05 % of O2: published.
func TestGasProperties(t *testing.T) {
	propane, methane := Fuel{2.667, 0, 3}, Fuel{4, 0, 1}
	for _, f := range []Fuel{Petrol, propane, methane} {
		got, err := Gas{CO2: 15}.Lambda(f)
		if err != nil || math.Abs(got-1) > 1e-12 {
			t.Errorf("%+v, complete: %v, %v", f, got, err)
		}
	}
	leak, _ := Gas{CO2: 15 * 0.95, O2: 20.95 * 0.05}.Lambda(Petrol)
	if leak < 1.04 || leak > 1.06 {
		t.Errorf("5 %% of air in the exhaust reads %.3f", leak)
	}
	with, _ := Gas{CO: 1, CO2: 14, O2: 1, NOppm: 1000}.Lambda(Petrol)
	as, _ := Gas{CO: 1, CO2: 14, O2: 1.05}.Lambda(Petrol)
	if math.Abs(with-as) > 1e-12 {
		t.Errorf("1000 ppm NO: %.6f, 0.05 %% O2: %.6f", with, as)
	}
}

func TestGasThatCantBe(t *testing.T) {
	for _, g := range []Gas{
		{CO2: 30}, {CO: -1, CO2: 10}, {O2: 20.9}, {CO2: math.NaN()}, {CO2: 10, O2: 22}, {CO2: 12, HCppm: 1e6},
	} {
		var wrong *GasError
		if _, err := g.Lambda(Petrol); !errors.As(err, &wrong) {
			t.Errorf("%+v: %v", g, err)
		}
	}
}
