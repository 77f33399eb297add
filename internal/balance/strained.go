package balance

import (
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/pressure"
)

// Constants of an engine that draws little for an idle. At such draws butterflies stand wide open, and all is level:
// what stands apart there by less than the aim may stand apart by kPa once every cylinder fires and the stop is back.
const (
	// strainedCycles is how many cycles it takes to see that. Chosen: 2 s.
	strainedCycles = 16
	// soundAgain is by how much, over pressure.StrainedDraw, it must draw to count as sound again. Chosen.
	soundAgain = 1.05
	// mostStrainedRPM is the fastest that is looked at: raised, a sound engine draws less. Measured: see
	// pressure.IdleDraw.
	mostStrainedRPM = 2000.0
)

// strained is what is known of that.
type strained struct {
	low  bool
	said bool // that every cylinder fires all the same
}

// sayFires tells that every cylinder fires, where nothing else speaks against a level bank; it reports whether that is
// so.
func (b *Balance) sayFires() bool {
	ill := func(why advice.Why) bool { return why != "" }
	if b.told.Kind != advice.Done || !b.strained.low || b.strained.said || b.advisor.halts.soFar.Doubt() ||
		slices.ContainsFunc(b.gate.faults.Found[:], ill) {
		return false
	}
	b.strained.said = true
	return true
}

// lowDraw notes whether the engine draws so little that it is in doubt that every cylinder fires; what is no steady
// idle leaves that as it was.
func (b *Balance) lowDraw(r *Reading) {
	if !r.Steady || r.Cycles < strainedCycles || !(r.RPM < mostStrainedRPM) || len(r.Cylinders) < 2 {
		return
	}
	var mean pressure.KPa
	for c := range r.Cylinders {
		if !Sound(r.Cylinders[c].State) {
			return
		}
		mean += r.Cylinders[c].Draw / pressure.KPa(len(r.Cylinders))
	}
	least := pressure.StrainedDraw(b.cfg.Ambient)
	if b.strained.low {
		least *= soundAgain
	}
	b.strained.low = mean < least
	b.strained.said = b.strained.said && b.strained.low
}
