// Package nozzle is the flow of air through a nozzle, as a butterfly in an intake is one, and how a runner fills
// through it.
//
// In: ratios of the pressure behind the nozzle to that before it, 0 to 1. Out: the flow function psi of such a ratio,
// and its integrals. Begin reading at Flow.
package nozzle

import (
	"math"
	"sync"
)

// Constants of flow through a nozzle, for air.
const (
	gamma = 1.4
	// Critical is the ratio of pressures below which the flow is choked,
	// (2/(gamma+1))^(gamma/(gamma-1)).
	Critical = 0.528282
	// integralCells is the size of integralTable, which goes up to integralTop of
	// ambient. Chosen: a straight line between cells is right to 1e-5.
	integralCells = 512
	integralTop   = 0.97
	// ratioCells is the size of ratioTable. Chosen: right to 1e-5.
	ratioCells = 512
)

// Flow is the flow function psi of a ratio r of pressures: isentropic, choked below the
// critical ratio, where it stays as it is there.
//
//	psi(r) = sqrt(2 gamma/(gamma-1) (r^(2/gamma) - r^((gamma+1)/gamma)))
func Flow(ratio float64) float64 {
	r := max(ratio, Critical)
	if r >= 1 {
		return 0
	}
	return math.Sqrt(2 * gamma / (gamma - 1) * (math.Pow(r, 2/gamma) - math.Pow(r, (gamma+1)/gamma)))
}

// Fill works out the tables, once: before the first Integral and Ratio, as a program that needs none is to start at
// once.
var Fill = sync.OnceFunc(func() {
	integralTable = integrals()
	ratioTable, full = ratios()
})

// integralTable is the integral ∫ dr/psi(r) from 0. It grows evenly in time while a runner refills through a
// butterfly of steady area, as r' = pace psi(r).
var integralTable [integralCells + 1]float64

func integrals() (t [integralCells + 1]float64) {
	const step = integralTop / integralCells
	for i := 1; i <= integralCells; i++ {
		r := float64(i) * step
		// Simpson.
		t[i] = t[i-1] + step/6*(1/Flow(r-step)+4/Flow(r-step/2)+1/Flow(r))
	}
	return t
}

// Integral returns that integral up to a ratio of pressures, at most integralTop.
func Integral(ratio float64) float64 {
	if ratio < 0 {
		ratio = 0
	} else if ratio > integralTop-1e-9 {
		ratio = integralTop - 1e-9
	}
	x := ratio * (integralCells / integralTop)
	i := int(x)
	return integralTable[i] + (x-float64(i))*(integralTable[i+1]-integralTable[i])
}

// ratioTable is the inverse of that integral, in even steps up to full, at which the
// ratio reaches 1: a runner is full in a finite time.
var (
	ratioTable [ratioCells + 1]float64
	full       float64
)

func ratios() (t [ratioCells + 1]float64, end float64) {
	// By u = sqrt(1 - r), in which the integral has no pole.
	const steps = 8 * ratioCells
	slope := func(u float64) float64 {
		if u == 0 {
			return math.Sqrt2 // psi nears sqrt(2 (1 - r))
		}
		return 2 * u / Flow(1-u*u)
	}
	var g [steps + 1]float64
	u := func(i int) float64 { return 1 - float64(i)/steps }
	for i := 1; i <= steps; i++ {
		g[i] = g[i-1] + (slope(u(i-1))+4*slope((u(i-1)+u(i))/2)+slope(u(i)))/(6*steps)
	}
	end = g[steps]
	i := 0
	for k := 1; k < ratioCells; k++ {
		at := end * float64(k) / ratioCells
		for g[i+1] < at {
			i++
		}
		v := u(i) + (at-g[i])/(g[i+1]-g[i])*(u(i+1)-u(i))
		t[k] = 1 - v*v
	}
	t[ratioCells] = 1
	return t, end
}

// Ratio returns the ratio of pressures at which the integral is g. Below 0 it goes
// straight on.
func Ratio(g float64) float64 {
	x := g * (ratioCells / full)
	if x >= ratioCells {
		return 1
	}
	i := max(int(x), 0)
	return ratioTable[i] + (x-float64(i))*(ratioTable[i+1]-ratioTable[i])
}
