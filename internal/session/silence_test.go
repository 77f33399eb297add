package session_test

import (
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// The time in which no frames came is stale time, of all cylinders, and of no cycle.
func TestSilenceIsStale(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four, Running: true})
	sum := session.NewSummary(func() pressure.KPa { return engine.DefaultAmbient })
	longest := 0.0
	c := session.NewChain(session.Config{Bank: &four, Ambient: engine.DefaultAmbient}, func(r *balance.Reading) {
		sum.Push(r)
		longest = max(longest, r.Span.Period)
	})
	const second = 24 * 1000 // bytes, about
	buf := make([]byte, second/10)
	for n := range 120 {
		size, _ := e.Read(buf)
		if n >= 50 && n < 70 { // two seconds are not handed on
			continue
		}
		if err := c.Feed(buf[:size]); err != nil {
			t.Fatal(err)
		}
	}
	whole := c.Link().LastTime
	lost := float64(c.Link().Lost) * 1e-3
	if longest > 0.3 || lost < 1 {
		t.Fatalf("the longest span is %.2f s, %.2f s lost", longest, lost)
	}
	for _, cylinder := range sum.Cylinders(&four) {
		stale := cylinder.States[cycle.Stale] * whole
		if math.Abs(stale-lost) > 0.1*lost || math.Abs(cylinder.States[cycle.OK]*whole-(whole-lost)) > 0.1*lost {
			t.Errorf("cylinder %d: %.2f s stale of %.2f lost: %v of %.2f s", cylinder.Cylinder, stale, lost,
				cylinder.States, whole)
		}
	}
}
