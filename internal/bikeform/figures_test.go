package bikeform

import (
	"testing"

	"evendraw/internal/garage"
)

func TestParseIdle(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][2]float64{"1000-1100": {1000, 1100}, " 950 – 1050 ": {950, 1050},
		"1050": {1000, 1100}, "fast": {}, "1100-1000": {}, "100": {}, "1000-9000": {},
		"1000-": {}, "nan": {}} {
		low, high, err := ParseIdle(text)
		if low != want[0] || high != want[1] || (err == nil) != (want[0] != 0) {
			t.Errorf("%q: %v to %v, %v", text, low, high, err)
		}
	}
	for _, unknown := range []string{"", " - "} {
		if low, high, err := ParseIdle(unknown); low != 0 || high != 0 || err != nil {
			t.Errorf("%q: %v to %v, %v", unknown, low, high, err)
		}
	}
	b := garage.DefaultBike("twin", 2)
	if err := AskMinutes.Answer(&b, "2,5"); b.IdlingLimitMin != 2.5 || err != nil {
		t.Errorf("%v, %v", b.IdlingLimitMin, err)
	}
	if err := AskMinutes.Answer(&b, "0"); b.IdlingLimitMin != 2.5 || err == nil {
		t.Error("no minutes were taken")
	}
}
