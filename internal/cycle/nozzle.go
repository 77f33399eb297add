package cycle

import "math"

// Constants of flow through a nozzle, for air.
const (
	gamma = 1.4
	// critical is the ratio of pressures below which the flow is choked,
	// (2/(gamma+1))^(gamma/(gamma-1)).
	critical = 0.528282
	// refillCells of the table, to refillTop of ambient. Chosen: a straight
	// line between cells is right to 1e-5.
	refillCells = 512
	refillTop   = 0.97
)

// nozzle is the flow function psi of the ratio of pressures: isentropic, choked
// below the critical ratio.
func nozzle(ratio float64) float64 {
	r := max(ratio, critical)
	if r >= 1 {
		return 0
	}
	return math.Sqrt(2 * gamma / (gamma - 1) * (math.Pow(r, 2/gamma) - math.Pow(r, (gamma+1)/gamma)))
}

// refillTable is the integral of dr/psi(r). A runner that refills through a
// butterfly of steady area moves along it evenly in time.
var refillTable = func() (t [refillCells + 1]float64) {
	const step = refillTop / refillCells
	for i := 1; i <= refillCells; i++ {
		r := float64(i) * step
		// Simpson.
		t[i] = t[i-1] + step/6*(1/nozzle(r-step)+4/nozzle(r-step/2)+1/nozzle(r))
	}
	return t
}()

// refilled returns that integral up to a ratio of pressures, at most refillTop.
func refilled(ratio float64) float64 {
	x := min(max(ratio, 0), refillTop-1e-9) * (refillCells / refillTop)
	i := int(x)
	return refillTable[i] + (x-float64(i))*(refillTable[i+1]-refillTable[i])
}
