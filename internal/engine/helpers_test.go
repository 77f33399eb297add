package engine

import (
	"testing"

	"evendraw/internal/bank"
)

// runFor reads frame by frame for so many seconds of engine time.
func runFor(t *testing.T, e *Engine, seconds float64) {
	t.Helper()
	p := make([]byte, e.board.frameLen())
	for end := e.Truth().TimeS + seconds; e.board.instant < uint64(end*float64(e.board.rate)+0.5); {
		if _, err := e.Read(p); err != nil {
			t.Fatal(err)
		}
	}
}

// average is a mean over many cycles.
type average struct {
	cycles           int
	rpm, least, most float64
	draw             [bank.MaxCylinders]float64
}

// observe runs for so many seconds and averages its cycles.
func observe(t *testing.T, e *Engine, seconds float64) average {
	t.Helper()
	a := average{least: 1e9}
	e.OnCycle(func(c Cycle) {
		a.cycles++
		a.rpm += c.RPM()
		a.least, a.most = min(a.least, c.RPM()), max(a.most, c.RPM())
		for i := range c.Cylinders {
			a.draw[i] += float64(c.Draw[i])
		}
	})
	runFor(t, e, seconds)
	e.OnCycle(nil)
	if a.cycles == 0 {
		t.Fatal("no cycle completed")
	}
	a.rpm /= float64(a.cycles)
	for i := range a.draw {
		a.draw[i] /= float64(a.cycles)
	}
	return a
}

// spread is the largest less the smallest draw of the first n cylinders.
func (a *average) spread(n int) float64 {
	least, most := a.draw[0], a.draw[0]
	for _, d := range a.draw[:n] {
		least, most = min(least, d), max(most, d)
	}
	return most - least
}

// level is an engine of n exactly alike cylinders with level butterflies, idling,
// every combustion alike.
func level(n int) Config {
	return Config{Bank: bank.Default(n), Level: true, Alike: true, Running: true, Smooth: true}
}
