package balance

import (
	"math"

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
func showsLess(r *Reading, c int) bool {
	var swings, draws perCylinder
	n := 0
	own := func(i int) float64 {
		swing := float64(r.Span.Ripple(i + 1))
		if d := r.Span.Damping[i]; d == d {
			swing /= 1 - d
		}
		return swing
	}
	for i := range r.Cylinders {
		if i != c {
			swings[n] = own(i)
			draws[n] = float64(r.Cylinders[i].Draw) + drawPerLogOpening*math.Log(r.Cylinders[i].Opening)
			n++
		}
	}
	swing := own(c) / series.Median(swings[:n])
	// The draw that the others have at the opening that it would then have.
	opening := r.Cylinders[c].Opening / math.Pow(swing, openingRoot)
	draw := float64(r.Cylinders[c].Draw) / (series.Median(draws[:n]) - drawPerLogOpening*math.Log(opening))
	return swing < 1-leastShort && math.Abs(draw-swing) < shortAlike
}
