package engine

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/bank"
)

// Pilot screws.
const (
	// The best setting of a bike, turns out from lightly seated, lies by chance between
	// these. Typical settings lie between 1 and 3 turns out (common practice).
	minBestOut, maxBestOut = 1.5, 2.5
	// ownBestOut is how far a cylinder's best setting is from the bike's. Chosen.
	ownBestOut = 0.15
	// phiPerTurn is what a turn changes the mixture by, as phi. Chosen: half a turn
	// goes from the best mixture to a little lean.
	phiPerTurn = 0.3
	// PilotTravel is how many turns out a pilot screw can be.
	PilotTravel = 5.0
)

// pilots are the pilot screws of all cylinders.
type pilots struct {
	air       bool // air screws: out is leaner
	best      [bank.MaxCylinders]float64
	out       [bank.MaxCylinders]float64 // turns out from lightly seated, now
	want      [bank.MaxCylinders]float64
	turnsMade float64 // turns made
}

func newPilots(c *Config, random *rand.Rand) pilots {
	p := pilots{air: c.AirScrews}
	bike := minBestOut + (maxBestOut-minBestOut)*random.Float64()
	for i := range c.Bank.Cylinders {
		own, off := 2*random.Float64()-1, 2*random.Float64()-1
		if c.Alike {
			own = 0
		}
		p.best[i] = bike + ownBestOut*own
		p.out[i] = min(max(p.best[i]+c.PilotsOff*off, 0), PilotTravel)
		p.want[i] = p.out[i]
	}
	return p
}

// turn begins to turn the screw of cylinder i + 1, clockwise positive, that is
// inwards, and reports whether there is anything to turn.
func (p *pilots) turn(i int, turns float64) bool {
	if math.IsNaN(turns) {
		return false
	}
	before := p.want[i]
	p.want[i] = min(max(p.want[i]-turns, 0), PilotTravel)
	return p.want[i] != before
}

// follow moves the screws over a time h in s.
func (p *pilots) follow(h float64) {
	if p.out == p.want {
		return
	}
	most := handTurnsPerS * h
	for i := range p.out {
		step := min(max(p.want[i]-p.out[i], -most), most)
		p.out[i] += step
		p.turnsMade += math.Abs(step)
	}
}

// phi returns the mixture that cylinder i + 1's carburettor gives, as phi, in air of
// standard density.
func (p *pilots) phi(i int) float64 {
	out := p.out[i] - p.best[i]
	if p.air {
		out = -out
	}
	return max(bestPhi+phiPerTurn*out, 0.05)
}

// thinAirFactor returns the factor by which thinner air makes a carburettor's mixture richer:
// sqrt(usual density / density), as air goes with its density, fuel with the root of density
// times suction (derived from Bernoulli's law for both).
func thinAirFactor(ambientPa, outside float64) float64 {
	const usual = 1000 * float64(DefaultAmbient) / outsideK
	return math.Sqrt(usual / (ambientPa / outside))
}
