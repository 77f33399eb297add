package balance

import "evendraw/internal/pressure"

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

// lowDraw notes whether the engine draws so little that it is in doubt that every cylinder fires; what is no steady
// idle leaves that as it was.
func (b *Balance) lowDraw(r *Reading) bool {
	if !r.Steady || r.Cycles < strainedCycles || !(r.RPM < mostStrainedRPM) || len(r.Cylinders) < 2 {
		return b.strained
	}
	var mean pressure.KPa
	for c := range r.Cylinders {
		if !Sound(r.Cylinders[c].State) {
			return b.strained
		}
		mean += r.Cylinders[c].Draw / pressure.KPa(len(r.Cylinders))
	}
	least := pressure.StrainedDraw(b.cfg.Ambient)
	if b.strained {
		least *= soundAgain
	}
	b.strained = mean < least
	return b.strained
}
