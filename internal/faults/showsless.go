package faults

import (
	"math"

	"evendraw/internal/linkage"
	"evendraw/internal/series"
)

// Limits of a channel that shows less than its cylinder does, by a share g: swing, dip and draw all fall
// short by it, and the opening looks smaller, as the pressure rises by g less in the same time.
const (
	// leastShort is the least shortfall of the swing, and shortAlike how far the draw's may be off it,
	// as shares. Chosen: swings of sound cylinders differ by 2 % once the lags are undone.
	leastShort = 0.05
	shortAlike = 0.08
	// openingRoot: the opening looks smaller by g to this power. Measured on the practice engine at 0.9.
	openingRoot = 0.6
)

// showsLess reports whether cylinder c's channel falls short in swing and draw alike.
func showsLess(l *Look, c int) bool {
	var swings, draws linkage.PerCylinder
	n := 0
	own := func(i int) float64 {
		swing := float64(l.Span.Ripple(i + 1))
		if d := l.Span.Damping[i]; d == d {
			swing /= 1 - d
		}
		return swing
	}
	for i := range l.Span.N {
		if i != c {
			swings[n] = own(i)
			draws[n] = l.Draw[i] + DrawPerLogOpening*math.Log(l.Opening[i])
			n++
		}
	}
	swing := own(c) / series.Median(swings[:n])
	// The draw that the others have at the opening that it would then have.
	opening := l.Opening[c] / math.Pow(swing, openingRoot)
	draw := l.Draw[c] / (series.Median(draws[:n]) - DrawPerLogOpening*math.Log(opening))
	return swing < 1-leastShort && math.Abs(draw-swing) < shortAlike
}
