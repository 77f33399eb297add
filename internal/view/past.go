package view

import (
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/hoses"
)

// goesPast reports whether the key that goes on past a fault does so: past a cylinder that does not fire none goes.
func (v *View) goesPast() bool {
	if v.inDoubt() && v.doubtsFiring() {
		return true
	}
	if !v.faultShown() {
		return false
	}
	r := v.reading()
	a := &r.Advice
	dead := a.Why == advice.WhyDead || a.Why == advice.WhyLeakNext && a.Cylinder > 0 &&
		a.Cylinder <= len(r.Cylinders) && r.Cylinders[a.Cylinder-1].Doubt == advice.WhyDead
	return a.Kind != advice.Fault || !dead
}

// goPast puts aside what stands in the way, where a key does; or what did before a start, once it is told again.
func (v *View) goPast() {
	if !v.goesPast() {
		if v.early, v.earlyAt = v.ordered, v.Now; !v.turning() && v.order.Big != "" {
			v.note("Start the engine; where it says the same again, press g.", Plain)
		}
		return
	}
	v.wentPast = v.Now
	v.order, v.noChange = Words{}, false
	if v.leakFound() {
		explained := v.leakExplains(&v.reading().Advice)
		if v.leak = (leak{}); !explained || !v.goesPast() {
			return
		}
	}
	v.want(Want{Kind: GoOn})
	if v.reading().Hoses.Verdict == hoses.Exchanged {
		v.note(hosesAside, Warn)
		if v.Flow.At == StepHoses {
			v.finish()
		}
	}
}

// pastTime is how long after the key that goes on past a fault it is looked whether that is told still. Chosen.
const pastTime = 2 * time.Second

// lookPast says where the key that goes on past a fault was heard, and the fault is told still or again.
func (v *View) lookPast() {
	if v.wentPast.IsZero() || v.Now.Sub(v.wentPast) < pastTime {
		return
	}
	if v.wentPast = (time.Time{}); v.goesPast() {
		v.note("g was heard, but it is still so. Read it again, then g once more.", Warn)
	}
}
