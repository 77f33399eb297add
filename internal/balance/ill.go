package balance

import (
	"evendraw/internal/advice"
	"evendraw/internal/faults"
	"evendraw/internal/learned"
)

// What a screw does to a cylinder that misfires, or whose boot leaks, is not what it does once that is mended: behind a
// torn boot half of it, on the practice engine.

// noteIll notes the screws that move a cylinder that is found to misfire, and the one that is told with it.
func (a *advisor) noteIll(f *faults.Cylinders, told *advice.Advice) {
	for c := range a.bank.Cylinders {
		if !ill(f.Found[c]) {
			continue
		}
		for s := range a.bank.Screws {
			if a.bank.Moves(s, c+1) {
				a.ill |= 1 << s
			}
		}
	}
	if told.Kind == advice.Fault && told.Screw != advice.NoScrew && (ill(told.Why) || told.Why == advice.WhyLeakNext) {
		a.ill |= 1 << told.Screw
	}
}

// ill reports whether that is why a cylinder's screw does something else than once it is mended.
func ill(why advice.Why) bool {
	return why == advice.WhyMisfires || why == advice.WhyLean || why == advice.WhyDead || why == advice.WhyOneMisfires
}

// known is what is known of screw s that holds once what is ill is mended.
func (a *advisor) known(s int) learned.Screw {
	k := a.screws[s]
	if a.ill>>s&1 == 1 {
		k.ForgetSize(a.bank.Screws[s].EffectKPaPerTurn)
	}
	return k
}

// forgetIll forgets, the engine off, how much those screws do, and what others were taken to do because of that.
func (a *advisor) forgetIll() {
	if a.ill == 0 {
		return
	}
	for s := range a.bank.Screws {
		k := &a.screws[s]
		if *k = a.known(s); !k.Seen {
			k.ForgetSize(0)
		}
	}
	a.ill = 0
	for s := range a.bank.Screws {
		if a.screws[s].Seen {
			a.shareEffect(s)
		}
	}
}
