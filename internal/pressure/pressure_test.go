package pressure

import (
	"fmt"
	"math"
	"testing"
)

// Pascal per unit: NIST SP 811, as printed to seven digits.
func TestUnitFactors(t *testing.T) {
	for _, c := range []struct {
		unit Unit
		pa   float64
	}{
		{Kilopascal, 1000}, {Millibar, 100}, {MillimetreHg, 133.3224}, {CentimetreHg, 1333.224}, {InchHg, 3386.389},
	} {
		t.Run(c.unit.Name, func(t *testing.T) {
			got := 1000 / c.unit.From(1)
			if math.Abs(got/c.pa-1) > 5e-7 {
				t.Errorf("1 %s = %.7g Pa, SP 811 prints %.7g", c.unit.Name, got, c.pa)
			}
		})
	}
	if got := CentimetreHg.From(26.66448); math.Abs(got-20) > 5e-6 {
		t.Errorf("26.66448 kPa = %v cmHg, want 20", got)
	}
}

// Tables of the US Standard Atmosphere 1976 at geometric altitude, as quoted by
// the tests of two open atmosphere libraries and Anderson's appendix D.
func TestStandardAtmosphere(t *testing.T) {
	for z, pa := range map[float64]float64{
		0: 101325, 50: 100720, 500: 95461, 550: 94890, 850: 91523, 1000: 89876, 1500: 84560, 2000: 79501,
		2500: 74691, 3000: 70121, 3500: 65780, 4000: 61660, 4500: 57753, 5000: 54048, 6500: 44075,
	} {
		t.Run(fmt.Sprint(z, " m"), func(t *testing.T) {
			got := float64(StandardAtmosphere(z)) * 1000
			if math.Abs(got-pa) > 10 {
				t.Errorf("at %v m: %.1f Pa, table %v", z, got, pa)
			}
		})
	}
	if StandardAtmosphere(-9e9) != StandardAtmosphere(LowestM) ||
		StandardAtmosphere(9e9) != StandardAtmosphere(HighestM) {
		t.Error("altitude out of range is not clamped")
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		got, want string
	}{
		{Kilopascal.Format(24.449), "24.4"},
		{Kilopascal.Format(-0.04), "0.0"},
		{Kilopascal.Format(KPa(math.NaN())), "–"},
		{MillimetreHg.Format(20), "150"},
		{InchHg.Format(20), "5.91"},
		{Kilopascal.FormatBeside(0.54, 0.5), "0.54"},
		{Kilopascal.FormatBeside(0.46, 0.5), "0.5"},
		{Kilopascal.FormatBeside(0.6, 0.5), "0.6"},
		{Kilopascal.FormatSigned(1.26), "+1.3"},
		{Kilopascal.FormatSigned(-1.26), "−1.3"},
		{Kilopascal.FormatSigned(0.01), "0.0"},
	} {
		t.Run(c.want, func(t *testing.T) {
			if c.got != c.want {
				t.Errorf("got %q, want %q", c.got, c.want)
			}
		})
	}
}

func TestParseUnit(t *testing.T) {
	for _, u := range Units() {
		if got, err := ParseUnit(u.Name); err != nil || got != u {
			t.Errorf("ParseUnit(%q) = %v, %v", u.Name, got, err)
		}
	}
	if _, err := ParseUnit("furlong"); err == nil {
		t.Error("furlong is no pressure")
	}
	if InchHg.Next() != Kilopascal || Kilopascal.Next() != Millibar {
		t.Error("Next does not step round")
	}
}

// How far a figure may be off is never told as nothing.
func TestFormatUncertainty(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		u    Unit
		p    KPa
		want string
	}{{Kilopascal, 0.01, "0.1"}, {Kilopascal, 0.16, "0.2"}, {Millibar, 0.02, "1"}, {InchHg, 0.001, "0.01"},
		{InchHg, 0.4, "0.12"}, {Kilopascal, KPa(math.NaN()), "–"}} {
		if got := c.u.FormatUncertainty(c.p); got != c.want {
			t.Errorf("%v of %s: %s, want %s", c.p, c.u.Name, got, c.want)
		}
	}
}
