// Package invented has the bikes of tests: garages with their cards, and a snapshot in which one idles. Only tests use
// it.
//
// In: the test, which fails where the disk does. Out: garages in folders of the test's own.
package invented

import (
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/session"
)

// Garage is the garage in dir.
func Garage(t testing.TB, dir string) *garage.Garage {
	t.Helper()
	g, err := garage.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// Bike puts the card of a bike with so many cylinders into g.
func Bike(t testing.TB, g *garage.Garage, name string, cylinders int) garage.Bike {
	t.Helper()
	bike := garage.DefaultBike(name, cylinders)
	if err := g.NewBike(&bike); err != nil {
		t.Fatal(err)
	}
	return bike
}

// Twin is a garage with the card of a twin, "twin".
func Twin(t testing.TB) (*garage.Garage, garage.Bike) {
	t.Helper()
	g := Garage(t, t.TempDir())
	return g, Bike(t, g, "twin", 2)
}

// IdlingTwin is a level twin that idles, at 1100 rpm.
func IdlingTwin() *session.Snapshot {
	r := &balance.Reading{Time: 60, RPM: 1100, Steady: true, Reference: 1, Spread: 0.4, Cycles: 50,
		Span: cycle.Span{Cycle: true, N: 2, Period: 0.11}}
	for c := range 2 {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: c + 1, Channel: c, Draw: 25, State: cycle.OK})
	}
	return &session.Snapshot{Phase: session.Running, Reading: r, Bank: bank.Default(2)}
}
