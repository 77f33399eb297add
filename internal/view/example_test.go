package view_test

import (
	"fmt"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// twin is a steady idle of a twin whose cylinder 2 draws 2 kPa more, as a session
// tells it.
func twin(now time.Time) *session.Snapshot {
	r := &balance.Reading{Time: 30, RPM: 1100, Steady: true, Reference: 1, Spread: 2, SpreadUncertainty: 0.1,
		Cycles: 80,
		Advice: advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, ScrewName: "1-2", Direction: advice.Clockwise,
			Turns: 0.25, Why: advice.WhyUnlevel}}
	for c, draw := range []pressure.KPa{24, 26} {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: c + 1, Channel: c, Draw: draw,
			Difference: draw - 24, Uncertainty: 0.1, State: cycle.OK})
	}
	return &session.Snapshot{Phase: session.Running, LastFrame: now, Reading: r, Bank: bank.Default(2),
		Config: session.Config{Ambient: 101.3, Zeroed: true}, Zero: session.ZeroState{Zeroed: true}}
}

// A view takes events, one after the other, and says what is to be seen.
func ExampleUpdate() {
	now := time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	v := view.View{Bike: "invented twin", Unit: pressure.Kilopascal, Aim: 0.5, Limit: 2.7}
	v = v.StartAt(view.StepLevel)
	v = view.Update(v, view.Tick{Now: now, Snap: twin(now)})
	p := v.Picture()
	fmt.Println(p.Head[1].Text)
	fmt.Println(p.Big, p.Amount)
	for _, sentence := range p.Say {
		fmt.Println(sentence)
	}
	v = view.Update(v, view.KeyPress{Key: "q"})
	fmt.Println("wants to quit:", len(v.Wants) == 1 && v.Wants[0].Kind == view.Quit)
	// Output:
	// 1100 rpm steady
	// 1-2 1/4
	// Loosen the lock nut, then turn screw 1-2 clockwise, by 1/4 of a turn.
	// Hand off when done, or at once if STOP shows.
	// wants to quit: true
}
