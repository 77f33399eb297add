package job

import (
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/session"
)

// twinGarage is a garage with the card of an invented twin.
func twinGarage(t *testing.T) (*garage.Garage, garage.Bike) {
	t.Helper()
	g, err := garage.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	bike := garage.DefaultBike("twin", 2)
	if err := g.NewBike(&bike); err != nil {
		t.Fatal(err)
	}
	return g, bike
}

// idlingTwin is a twin that idles.
func idlingTwin() *session.Snapshot {
	r := &balance.Reading{Time: 60, RPM: 1100, Steady: true, Reference: 1, Spread: 0.4, Cycles: 50,
		Span: cycle.Span{Cycle: true, N: 2, Period: 0.11}}
	for c := range 2 {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: c + 1, Channel: c, Draw: 25, State: cycle.OK})
	}
	return &session.Snapshot{Phase: session.Running, Reading: r, Bank: bank.Default(2)}
}
