package balance_test

import (
	"fmt"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// A twin idles; cylinder 2 draws 2 kPa more. After some seconds the advice names the one screw.
func ExampleBalance() {
	b := balance.New(balance.Config{Bank: bank.Default(2), Ambient: 101.3})
	var r balance.Reading
	for i := range 60 {
		s := cycle.Span{Start: float64(i) * 0.12, Period: 0.12, Cycle: true, N: 2}
		for c := range 2 {
			s.Mean[c] = pressure.KPa(76.3-2*float64(c)) + pressure.KPa(0.01*float64(i%3))
			s.Lowest[c], s.Highest[c], s.DipAt[c] = 40, 95, float64(c)/2
			s.State[c] = cycle.OK
		}
		r = b.Push(&s)
	}
	fmt.Printf("spread %.1f kPa; %s screw %s\n", float64(r.Spread), r.Advice.Kind, r.Advice.ScrewName)
	// Output:
	// spread 2.0 kPa; turn screw 1-2
}
