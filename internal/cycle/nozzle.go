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
	// filledCells of the inverse table. Chosen: right to 1e-5.
	filledCells = 512
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
	if ratio < 0 {
		ratio = 0
	} else if ratio > refillTop-1e-9 {
		ratio = refillTop - 1e-9
	}
	x := ratio * (refillCells / refillTop)
	i := int(x)
	return refillTable[i] + (x-float64(i))*(refillTable[i+1]-refillTable[i])
}

// filledTable is the inverse of that integral, in even steps up to filledAt, where the
// ratio reaches 1: it does so in a finite time.
var filledTable, filledAt = func() (t [filledCells + 1]float64, end float64) {
	// By u = sqrt(1 - r), in which the integral has no pole.
	const steps = 8 * filledCells
	slope := func(u float64) float64 {
		if u == 0 {
			return math.Sqrt2 // psi nears sqrt(2 (1 - r))
		}
		return 2 * u / nozzle(1-u*u)
	}
	var g [steps + 1]float64
	u := func(i int) float64 { return 1 - float64(i)/steps }
	for i := 1; i <= steps; i++ {
		g[i] = g[i-1] + (slope(u(i-1))+4*slope((u(i-1)+u(i))/2)+slope(u(i)))/(6*steps)
	}
	end = g[steps]
	i := 0
	for k := 1; k < filledCells; k++ {
		at := end * float64(k) / filledCells
		for g[i+1] < at {
			i++
		}
		v := u(i) + (at-g[i])/(g[i+1]-g[i])*(u(i+1)-u(i))
		t[k] = 1 - v*v
	}
	t[filledCells] = 1
	return t, end
}()

// filled returns the ratio of pressures that a refill has reached where the integral is
// g; below nought it goes straight on.
func filled(g float64) float64 {
	x := g * (filledCells / filledAt)
	if x >= filledCells {
		return 1
	}
	i := max(int(x), 0)
	return filledTable[i] + (x-float64(i))*(filledTable[i+1]-filledTable[i])
}
