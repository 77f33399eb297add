package garage

import (
	"testing"
	"time"

	"evendraw/internal/heat"
)

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

// The cooling goes on while the program is left, and a start does not reset it.
func TestHeatIsKept(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	now := g.now()
	g.now = func() time.Time { return now }
	if _, ok := g.LoadHeat("Invented Four", 0); ok {
		t.Error("there is a heat of a bike that never ran")
	}
	must(t, g.SaveHeat("Invented Four", heat.State{Seconds: 300, Hot: true}))
	for _, row := range []struct {
		after   time.Duration
		seconds float64
		hot, ok bool
	}{{0, 300, true, true}, {100 * time.Second, 250, true, true}, {300 * time.Second, 150, false, true},
		{time.Hour, 0, false, false}, {-time.Hour, 300, true, true}} {
		g.now = func() time.Time { return now.Add(row.after) }
		h, ok := g.LoadHeat("Invented Four", 300)
		if h.Seconds != row.seconds || h.Hot != row.hot || ok != row.ok {
			t.Errorf("after %v: %+v, %v", row.after, h, ok)
		}
		if _, ok := g.LoadHeat("another", 300); ok {
			t.Error("another bike is as hot")
		}
	}
}
