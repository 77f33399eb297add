package page_test

import (
	"math"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// levelling is an invented four at its levelling, with that advice, seen at a time.
func levelling(a advice.Advice) view.View {
	at := time.Now()
	r := &balance.Reading{Time: 42, RPM: 1053, Steady: true, Reference: 1, Spread: 6.5, SpreadUncertainty: 0.1,
		Cycles: 60,
		Span:   cycle.Span{Cycle: true, N: 4, Period: 0.114}, Advice: a}
	for i, d := range []float64{0, 0.2, 3.4, -3.1} {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Channel: i, Draw: pressure.KPa(22.4 + d),
			Difference: pressure.KPa(d), Uncertainty: 0.12, Ripple: 60, State: cycle.OK})
	}
	snap := &session.Snapshot{Phase: session.Running, LastFrame: at, HeatAt: at, Heat: heat.State{Seconds: 133,
		Turning: true},
		Reading: r, Bank: bank.Default(4),
		Zero: session.ZeroState{Zeroed: true}, Config: session.Config{Ambient: 101.3, Zeroed: true}}
	v := view.View{Bike: "Invented four", Unit: pressure.Kilopascal, Aim: 0.7, Limit: 2.7}.StartAt(view.StepLevel)
	return view.Update(v, view.Tick{Now: at, Snap: snap})
}

// turn is the advice to turn screw 1-2 anticlockwise by that much; NaN is until told to stop.
func turn(turns float64) advice.Advice {
	a := advice.New(advice.Turn, advice.SyncScrew, advice.WhyUnlevel)
	a.Screw, a.ScrewName, a.Direction, a.Turns = 0, "1-2", advice.Anticlockwise, turns
	return a
}

// other is turn with another kind and reason.
func other(kind advice.Kind, why advice.Why) advice.Advice {
	a := turn(math.NaN())
	a.Kind, a.Why = kind, why
	return a
}
