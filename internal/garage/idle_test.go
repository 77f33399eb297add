package garage

import "testing"

func TestParseIdle(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][2]float64{"1000-1100": {1000, 1100}, " 950 – 1050 ": {950, 1050},
		"1050": {1000, 1100}, "": {}, "fast": {}, "1100-1000": {}, "100": {}, "1000-9000": {},
		"1000-": {}, "nan": {}} {
		low, high, err := ParseIdle(text)
		if low != want[0] || high != want[1] || (err == nil) != (want[0] != 0) {
			t.Errorf("%q: %v to %v, %v", text, low, high, err)
		}
	}
	if v, err := ParseMinutes("2,5"); v != 2.5 || err != nil {
		t.Errorf("%v, %v", v, err)
	}
	if _, err := ParseMinutes("0"); err == nil {
		t.Error("no minutes were taken")
	}
}

// What the idle step asks for stands on the card after; the rest of the card stays.
func TestSaveIdle(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	must(t, g.SaveIdle("Invented Four", 1000, 1100))
	got, err := g.LoadBike("Invented Four")
	must(t, err)
	if got.IdleRPMLow != 1000 || got.IdleRPMHigh != 1100 || got.Bank.Cylinders != 4 {
		t.Errorf("%+v", got)
	}
	if err := g.SaveIdle("none", 1000, 1100); err == nil {
		t.Error("a card that is not there was written")
	}
}
