package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
)

// blames are by screw.
type blames [bank.MaxCylinders]blame

// blame is that a cylinder misfires since a screw has shut it. The screw is turned back then; where the levelling wants
// it shut once more an air leak comes first, as what it hides is what the screw would make up for.
type blame struct {
	cylinder int  // from 1; 0 is none
	looked   bool // somebody has stopped the engine since, or gone on past it
	aside    bool // the leak was looked for, too
}

// tell notes that a cylinder is told to misfire by that screw.
func (b *blame) tell(cylinder int) {
	if b.cylinder != cylinder {
		*b = blame{cylinder: cylinder}
	}
}

// looked notes that what was told was looked at.
func (b *blames) looked() {
	for s := range b {
		b[s].looked = b[s].looked || b[s].cylinder > 0
	}
}

// before returns the screw by which that cylinder was told to misfire, and was looked at; -1 is none.
func (b *blames) before(cylinder int) (screw int) {
	for s := range b {
		if b[s].looked && b[s].cylinder == cylinder {
			return s
		}
	}
	return -1
}

// shutsAgain tells that an air leak comes first where screw s would shut a cylinder again that misfired for that. Where
// there are no keys nobody could say that it was looked for.
func (a *advisor) shutsAgain(s int, rest *state, w *window) (adv advice.Advice, stop bool) {
	b := &a.blames[s]
	if !a.keys || !b.looked || b.aside || rest.wanted[s] <= 0 {
		if a.halts.told == advice.WhyLeakNext {
			a.halts.told = ""
		}
		return adv, false
	}
	a.halts.told, a.halts.screw, a.named = advice.WhyLeakNext, s, false
	adv = faultOf(b.cylinder, advice.WhyLeakNext)
	adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	return a.enter(choosing, adv, w), true
}

// shutFar is from how many net turns that shut it a carburettor is suspected where another cylinder misfires. Chosen.
const shutFar = 1.0

// tellShut adds to the word that a cylinder misfires since it was shut, or does not fire, by which screw that was, and
// which way back is; to the word that it misfires, which screw has shut another by more than shutFar: air may leak in
// there. What was looked at before, and is so again, is told as that.
func (a *advisor) tellShut(adv *advice.Advice) {
	if adv.Kind != advice.Fault {
		return
	}
	switch adv.Why {
	case advice.WhyLean, advice.WhyDead:
		if s := a.blames.before(adv.Cylinder); s >= 0 {
			adv.Why, adv.Screw, adv.ScrewName = advice.WhyLeakNext, s, a.bank.Screws[s].Name
			return
		}
		if s, raised := a.shutMost(adv.Cylinder); raised > leastShut {
			a.blames[s].tell(adv.Cylinder)
			adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
			if turns, known := a.turned(s); a.screws[s].directionKnown() {
				adv.Direction = advice.WayOf(-turns)
				if known {
					adv.Turns = math.Abs(turns)
				}
			}
		}
	case advice.WhyMisfires:
		if s := a.blames.before(adv.Cylinder); s >= 0 {
			adv.Why, adv.Screw, adv.ScrewName = advice.WhyLeakNext, s, a.bank.Screws[s].Name
			return
		}
		most := shutFar
		for s := range a.bank.Screws {
			if turns := a.leastTurned(s, a.halts.moved[s], sureSigmas); a.halts.moved[s] > 0 && turns > most {
				adv.Screw, adv.ScrewName, most = s, a.bank.Screws[s].Name, turns
			}
		}
	}
}
