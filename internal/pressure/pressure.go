package pressure

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/plain"
)

// KPa is a pressure in kilopascal. The name of what holds it says whether it is
// absolute, or a vacuum (ambient minus absolute, positive downwards).
type KPa float64

// Unit is a unit that pressures are shown in.
type Unit struct {
	Name     string
	perKPa   float64 // units in one kPa
	decimals int     // so that the last digit shown is at most 0.1 kPa
}

// The units in which a vacuum can be shown. Factors: NIST SP 811, table of
// conversion factors; the mercury ones are the conventional millimetre and
// inch of mercury (133.322 387 415 Pa and 3386.388 640 341 Pa, exact products
// of 13.5951 g/cm3 and standard gravity).
var (
	Kilopascal   = Unit{"kPa", 1, 1}
	Millibar     = Unit{"mbar", 10, 0}
	MillimetreHg = Unit{"mmHg", 1000 / 133.322387415, 0}
	CentimetreHg = Unit{"cmHg", 100 / 133.322387415, 1}
	InchHg       = Unit{"inHg", 1000 / 3386.388640341, 2}
)

// Units returns all units, in the order in which a key steps through them.
func Units() []Unit {
	return []Unit{Kilopascal, Millibar, MillimetreHg, CentimetreHg, InchHg}
}

// UnitNames names all units, with commas between.
func UnitNames() string {
	var names []string
	for _, u := range Units() {
		names = append(names, u.Name)
	}
	return strings.Join(names, ", ")
}

// ParseUnit returns the unit of that name, upper or lower case alike.
func ParseUnit(name string) (Unit, error) {
	var names []string
	for _, u := range Units() {
		if strings.EqualFold(u.Name, name) {
			return u, nil
		}
		names = append(names, u.Name)
	}
	return Unit{}, fmt.Errorf("unknown unit %q, known are %s", name, strings.Join(names, ", "))
}

// Next returns the unit after u in Units, the first after the last.
func (u Unit) Next() Unit {
	all := Units()
	for i, v := range all {
		if v.Name == u.Name {
			return all[(i+1)%len(all)]
		}
	}
	return all[0]
}

// From returns p in units of u.
func (u Unit) From(p KPa) float64 { return float64(p) * u.perKPa }

// Format returns p in u, without the unit's name, to at most a tenth of a kPa; an
// unknown pressure (NaN) is a dash.
func (u Unit) Format(p KPa) string {
	if math.IsNaN(float64(p)) {
		return plain.Dash
	}
	return strings.Replace(fmt.Sprintf("%.*f", u.decimals, noMinusZero(u.From(p), u.decimals)), "-", "−", 1)
}

// FormatUncertainty is Format of how far a pressure may be off, at least one of the last decimal: none is known to
// ±0.0.
func (u Unit) FormatUncertainty(p KPa) string {
	return u.Format(max(p, KPa(math.Pow10(-u.decimals)/u.perKPa)))
}

// FormatBeside is Format, with one more decimal where p lies above a mark that would be printed the same.
func (u Unit) FormatBeside(p, mark KPa) string {
	if p > mark && u.Format(p) == u.Format(mark) {
		return u.FormatFine(p)
	}
	return u.Format(p)
}

// FormatFine is Format with one more decimal: a hundredth of a kPa at most, for figures of a whole recording.
func (u Unit) FormatFine(p KPa) string {
	u.decimals++
	return u.Format(p)
}

// FormatSigned is Format with a sign before every value but zero.
func (u Unit) FormatSigned(p KPa) string {
	s := u.Format(p)
	if math.IsNaN(float64(p)) || strings.HasPrefix(s, "−") || strings.Trim(s, "0.") == "" {
		return s
	}
	return "+" + s
}

// noMinusZero returns 0 for a value that would be printed as -0.
func noMinusZero(v float64, decimals int) float64 {
	if math.Abs(v) < 0.5*math.Pow10(-decimals) {
		return 0
	}
	return v
}

// Constants of the US Standard Atmosphere 1976 (the same as ISO 2533 below
// 32 km), troposphere.
const (
	seaLevelKPa  = 101.325
	seaLevelK    = 288.15
	lapseKPerM   = 0.0065
	earthRadiusM = 6356766
	exponent     = 5.255876 // g0 M / (R* lapse)

	// LowestM and HighestM bound the altitudes that StandardAtmosphere takes.
	LowestM, HighestM = -500, 11000
)

// StandardAtmosphere returns the absolute air pressure of the standard
// atmosphere at a geometric altitude above sea level in metres:
//
//	H = r z/(r+z),  p = 101.325 kPa (1 - 0.0065 H/288.15)^5.255876
//
// Altitudes outside LowestM to HighestM are taken as the nearest of the two.
// Source: US Standard Atmosphere 1976. At 1000 m: 89.876 kPa.
func StandardAtmosphere(altitudeM float64) KPa {
	z := min(max(altitudeM, LowestM), HighestM)
	h := earthRadiusM * z / (earthRadiusM + z)
	return KPa(seaLevelKPa * math.Pow(1-lapseKPerM*h/seaLevelK, exponent))
}
