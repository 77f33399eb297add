package balance

import (
	"math"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/faults"
)

// blames are by screw.
type blames [bank.MaxCylinders]blame

// blame is that a cylinder misfires since a screw has shut it. The screw is turned back then; where the levelling wants
// it shut once more an air leak comes first, as what it hides is what the screw would make up for. It is over once the
// cylinder has fired well for firesWell.
type blame struct {
	cylinder int  // from 1; 0 is none
	looked   bool // somebody has stopped the engine since, or gone on past it
	searched bool // somebody has looked for the leak, or gone on past that: the screw may shut it once more
	aside    bool // it was told as the same again, too, and gone on past
}

// firesWell is for how long of an idle a cylinder must not have misfired for what was before to be no longer told as
// the same again, s. Chosen: a minute, in which the screw that made it misfire is named again.
const firesWell = 60.0

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

// searched notes that somebody has looked for a leak where a cylinder was told to misfire, and was looked at.
func (b *blames) searched() {
	for s := range b {
		b[s].searched = b[s].searched || b[s].looked
	}
}

// goOn notes that the key goes on past what is told: its words send to the air leak. With no fault told, it says that
// what was told before the engine stood is done.
func (b *blames) goOn(told *advice.Advice) {
	for s := range b {
		if e := &b[s]; told.Kind == advice.Fault && e.cylinder == told.Cylinder {
			again := told.Why == advice.WhyLeakNext
			e.aside = e.aside || again
			e.looked = e.looked || again || told.Why == advice.WhyLean
		}
	}
	if told.Kind != advice.Fault && told.Why != advice.WhyNoAnswer || told.Why == advice.WhyLean ||
		told.Why == advice.WhyLeakNext {
		b.searched()
	}
}

// end ends those whose cylinders have fired well, for so many seconds each, but for what is told.
func (b *blames) end(well *perCylinder, told *advice.Advice) {
	for s := range b {
		c := b[s].cylinder
		if c > 0 && well[c-1] > firesWell && (told.Kind != advice.Fault || told.Cylinder != c) {
			b[s] = blame{}
		}
	}
}

// before returns the screw by which that cylinder was told to misfire, and was looked at; -1 is none, or that it was
// gone on past as the same again.
func (b *blames) before(cylinder int) (screw int) {
	for s := range b {
		if b[s].looked && !b[s].aside && b[s].cylinder == cylinder {
			return s
		}
	}
	return -1
}

// shutsAgain tells that an air leak comes first where screw s would shut a cylinder again that misfired for that. Where
// there are no keys nobody could say that it was looked for.
func (a *advisor) shutsAgain(s int, rest *state, w *window) (adv advice.Advice, stop bool) {
	b := &a.blames[s]
	if !a.keys || !b.looked || b.searched || rest.wanted[s] <= 0 {
		if a.halts.told == advice.WhyLeakNext {
			a.halts.told = ""
		}
		return adv, false
	}
	a.halts.told, a.halts.screw, a.named = advice.WhyLeakNext, s, false
	adv = faults.Of(b.cylinder, advice.WhyLeakNext)
	adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	return a.enter(choosing, adv, w), true
}

// shutFar is from how many net turns that shut it a carburettor is suspected where another cylinder misfires. Chosen.
const shutFar = 1.0

// tellShut adds to the word that a cylinder misfires since it was shut, or does not fire, by which screw that was, and
// which way back is; to the word that it misfires, which screw has shut it, or another by more than shutFar: air may
// leak in there. What was looked at before, and is so again, is told as that.
func (a *advisor) tellShut(adv *advice.Advice) {
	ill := adv.Why == advice.WhyLean || adv.Why == advice.WhyDead || adv.Why == advice.WhyMisfires
	if adv.Kind != advice.Fault || !ill {
		return
	}
	if s := a.blames.before(adv.Cylinder); s >= 0 {
		adv.Why, adv.Screw, adv.ScrewName = advice.WhyLeakNext, s, a.bank.Screws[s].Name
		return
	}
	s, raised := a.shutMost(adv.Cylinder)
	if raised > faults.LeastShut {
		adv.Screw, adv.ScrewName = s, a.bank.Screws[s].Name
	}
	switch {
	case raised > faults.LeastShut && adv.Why != advice.WhyMisfires:
		a.blames[s].tell(adv.Cylinder)
		if a.screws[s].DirectionKnown() {
			way, _ := a.turnsOf(s, raised)
			adv.Direction = advice.WayOf(-way)
			if turns, known := a.turned(s); known {
				adv.Turns = math.Abs(turns)
			}
		}
	case raised <= faults.LeastShut && adv.Why == advice.WhyMisfires:
		most := shutFar
		for s := range a.bank.Screws {
			m := a.halts.seen(s)
			if turns := a.leastTurned(s, m, sureSigmas); m > 0 && turns > most {
				adv.Screw, adv.ScrewName, most = s, a.bank.Screws[s].Name, turns
			}
		}
	}
}
