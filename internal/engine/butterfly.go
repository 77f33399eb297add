package engine

import "math"

// Properties of air. Standard values: gamma 1.4, gas constant of dry air.
const (
	gamma       = 1.4
	gasConstant = 287.05 // J/(kg K)

	// criticalRatio is (2/(gamma+1))^(gamma/(gamma-1)): below it flow is choked.
	criticalRatio = 0.5282817877171742
	// chokedPsi is the nozzle function there, sqrt(gamma) (2/(gamma+1))^3.
	chokedPsi = 0.6847314563772704
)

// The throttle plate. Chosen: a bore common on fours of 650 to 750 cm3, and the
// plate of the first table row in butterfly_test.go.
const (
	boreM         = 0.034
	closedDegrees = 8.0  // angle of the plate when it touches the bore
	shaftRatio    = 0.12 // shaft diameter over bore

	// plateCoefficient is the discharge coefficient. Chosen within the range
	// of the literature, 0.6 to 0.9; constant here.
	plateCoefficient = 0.7
	// leakM2 is the effective area of what a closed plate lets by. Chosen.
	leakM2 = 0.3e-6
)

// openFraction returns the projected open area of a throttle plate in a round
// bore over the bore's area, for a plate at angle degrees that touches the bore
// at closed degrees, with a shaft of a times the bore's diameter; both angles
// against the bore's cross-section. Closed or past it gives 0. The closed form
// is attributed to Harrington and Bolt, SAE 700082 (1970):
//
//	k = cos(angle)/cos(closed)
//	1 - k + 2/pi [a sqrt(1-(a/k)^2) + k asin(a/k) - a sqrt(1-a^2) - asin a]
//
// while k >= a; beyond, the shaft alone is in the way.
func openFraction(angle, closed, a float64) float64 {
	if angle <= closed {
		return 0
	}
	k := math.Cos(angle*math.Pi/180) / math.Cos(closed*math.Pi/180)
	shaft := a*math.Sqrt(1-a*a) + math.Asin(a)
	if k <= a {
		return 1 - 2/math.Pi*shaft
	}
	q := a / k
	return 1 - k + 2/math.Pi*(a*math.Sqrt(1-q*q)+k*math.Asin(q)-shaft)
}

// plateArea returns the effective area in m2 of the plate at an angle in degrees.
func plateArea(angle float64) float64 {
	const bore = math.Pi / 4 * boreM * boreM
	return leakM2 + plateCoefficient*bore*openFraction(angle, closedDegrees, shaftRatio)
}

// plateAngle is the inverse of plateArea between closed and 80 degrees.
func plateAngle(areaM2 float64) float64 {
	low, high := closedDegrees, 80.0
	for range 60 {
		if mid := (low + high) / 2; plateArea(mid) < areaM2 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// nozzleExact returns the nozzle function of the ratio r of the pressure
// downstream to the one upstream, for isentropic flow to the throat,
//
//	psi = sqrt(2 gamma/(gamma-1) (r^(2/gamma) - r^((gamma+1)/gamma)))
//
// constant below criticalRatio, so that the flow is A p psi/sqrt(R T) with A the
// effective area, p and T the pressure and temperature upstream.
func nozzleExact(r float64) float64 {
	r = min(max(r, criticalRatio), 1)
	return math.Sqrt(2 * gamma / (gamma - 1) * (math.Pow(r, 2/gamma) - math.Pow(r, (gamma+1)/gamma)))
}

// nozzleCells is the resolution of nozzleSquares. Measured: the table is within
// 3e-7 of nozzleExact below r = 0.998.
const nozzleCells = 2048

// nozzleSquares holds psi squared, which is smooth up to r = 1, at equal steps
// from criticalRatio to 1, and one more for the interpolation at the end.
var nozzleSquares = func() (t [nozzleCells + 2]float64) {
	for i := range t {
		psi := nozzleExact(criticalRatio + (1-criticalRatio)*float64(i)/nozzleCells)
		t[i] = psi * psi
	}
	return t
}()

// nozzle returns the nozzle function, bounded by steepest (1 - r), as its slope is
// infinite at r = 1.
func nozzle(r, steepest float64) float64 {
	if r <= criticalRatio {
		return chokedPsi
	}
	x := (r - criticalRatio) * (nozzleCells / (1 - criticalRatio))
	i := int(x)
	f := x - float64(i)
	psi := math.Sqrt(nozzleSquares[i] + f*(nozzleSquares[i+1]-nozzleSquares[i]))
	if line := steepest * (1 - r); line < psi { // quicker than min, which looks for NaN
		return line
	}
	return psi
}

// orifice returns the mass flow in kg/s through an effective area in m2 from
// pressure p1 (Pa absolute) to p2, negative when it goes back. root1 and root2
// are sqrt(R T) of the gas on either side, in m/s.
func orifice(areaM2, p1, root1, p2, root2, steepest float64) float64 {
	if p1 >= p2 {
		return areaM2 * p1 / root1 * nozzle(p2/p1, steepest)
	}
	return -areaM2 * p2 / root2 * nozzle(p1/p2, steepest)
}
