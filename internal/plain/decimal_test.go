package plain

import "testing"

// A number is read as people write it; what may be a thousand or one is seen.
func TestDecimal(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{"0.5": 0.5, "0,5": 0.5, " 12 ": 12, "-1,25": -1.25, "1e3": 1000} {
		if v, err := Decimal(text); v != want || err != nil {
			t.Errorf("%q: %g, %v", text, v, err)
		}
	}
	for _, text := range []string{"", "NaN", "inf", "0x10", "1_000", "1,2,3", "1.2,3", "1/2", "1 2"} {
		if v, err := Decimal(text); err == nil {
			t.Errorf("%q: %g", text, v)
		}
	}
	for text, want := range map[string]bool{"1,250": true, "12.500": true, "250,000": true, "0,250": false,
		"1,25": false, "1250": false, ",250": false, "1,2500": false, "-1,250": false, "1,2x0": false} {
		if MayBeThousands(text) != want {
			t.Errorf("%q: %v", text, !want)
		}
	}
}
