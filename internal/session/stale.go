package session

import (
	"math"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
)

// StaleAfter is the age of the last frame from which on figures must be marked
// stale. Chosen: they must be so 300 ms after the last frame, and whoever looks
// does so every 20 to 50 ms; bridges batch 16 ms.
const StaleAfter = 250 * time.Millisecond

// Stale reports whether the newest reading is of frames too old to be shown as
// live: frames came, and none for StaleAfter before now.
func (s *Snapshot) Stale(now time.Time) bool {
	return s.Phase != Ended && !s.LastFrame.IsZero() && now.Sub(s.LastFrame) > StaleAfter
}

// Outdated returns what is left of a reading when no frames come any more: its
// time and budget of idling, and of each cylinder the state stale. Figures are NaN.
func Outdated(r *balance.Reading) balance.Reading {
	nan := pressure.KPa(math.NaN())
	out := balance.Reading{Time: r.Time, RPM: math.NaN(), Spread: nan, Reference: r.Reference, Heat: r.Heat,
		Advice: advice.New(advice.Wait, advice.NoPart, advice.WhyNoFrames)}
	for _, c := range r.Cylinders {
		out.Cylinders = append(out.Cylinders, balance.Cylinder{Cylinder: c.Cylinder, Channel: c.Channel,
			State: cycle.Stale, Draw: nan, Difference: nan, Uncertainty: nan, Ripple: nan,
			Opening: math.NaN(), OpeningUncertainty: math.NaN()})
	}
	return out
}
