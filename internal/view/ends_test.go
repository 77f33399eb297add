package view

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/airleak"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/session"
)

// after returns the view some seconds on, with that reading.
func after(v View, seconds float64, r *balance.Reading) View {
	at := v.Now.Add(time.Duration(seconds * float64(time.Second)))
	snap := *v.Snap
	snap.Reading = r
	return Update(v, Tick{Now: at, Snap: fresh(&snap, at)})
}

// said is all that stands below the large word.
func said(v *View) string { return strings.Join(v.Picture().Say, " ") }

// A bank that reads level is gone on from by itself, but not where something is to be looked at first.
func TestNobodyIsMovedOnFromADoubt(t *testing.T) {
	t.Parallel()
	for less, want := range map[bool]string{true: "too little vacuum for", false: "does not match its throttle"} {
		r := reading(advice.Done, advice.WhyLevel)
		r.Cylinders[1].Doubt, r.Cylinders[1].DrawsLess = advice.WhyDisagree, less
		v := after(running(r).StartAt(StepLevel), 1, r)
		if !strings.Contains(said(&v), want) {
			t.Errorf("draws less %v: %s", less, said(&v))
		}
	}
	for doubt, want := range map[advice.Why]Step{"": StepBlip, advice.WhyDisagree: StepLevel,
		advice.WhyHalfBlocked: StepLevel} {
		v := running(reading(advice.Turn, advice.WhyUnlevel))
		v = v.StartAt(StepLevel)
		r := reading(advice.Done, advice.WhyLevel)
		r.Cylinders[1].Doubt = doubt
		for range 4 {
			v = after(v, 1, r)
		}
		if v.Flow.At != want && !(want > StepLevel && v.Flow.At > StepLevel) {
			t.Errorf("doubt %q: at %s", doubt, v.Flow.At.ID())
		}
		if hose := strings.Contains(said(&v), "Look at that hose"); hose != (doubt == advice.WhyHalfBlocked) {
			t.Errorf("doubt %q: %s", doubt, said(&v))
		}
		stands := reading(advice.Wait, advice.WhyNoCycle)
		stands.Span.Cycle = false
		if v = after(after(v, 1, stands), 20, stands); (v.Picture().Big == BigEngineOff+" 2") != (doubt != "") {
			t.Errorf("doubt %q, the engine switched off because of it: %s", doubt, v.Picture().Big)
		}
	}
}

// A leak that looking has found stands in large words until it is put aside; the same one found again is told as sure.
func TestAFoundLeakStands(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Flow = Flow{At: StepLevel}
	snap := *v.Snap
	snap.Tune = session.Tune{Air: &airleak.State{Phase: airleak.Less, Cylinder: 2, Share: 0.3, Seconds: 3, Last: 2,
		Again: true}}
	v = Update(v, Tick{Now: v.Now, Snap: &snap})
	if !strings.Contains(said(&v), "The same again at cylinder 2") {
		t.Error(said(&v))
	}
	v = press(v, "l")
	ended := snap
	ended.Tune = session.Tune{}
	v = Update(v, Tick{Now: v.Now, Snap: &ended})
	for range 3 {
		v = after(v, 2, reading(advice.Turn, advice.WhyUnlevel))
		if v.Picture().Big != "LEAK 2" {
			t.Fatalf("%s: %s", v.Picture().Big, said(&v))
		}
	}
	v = after(press(v, "g"), 2, reading(advice.Turn, advice.WhyUnlevel))
	if v.Picture().Big != "1-2" {
		t.Errorf("after g: %s", v.Picture().Big)
	}
}

// Where a cylinder that was shut misfires, a leak is looked for first; what misfires later is told as what it is then.
func TestALeakComesFirst(t *testing.T) {
	t.Parallel()
	first := func(v *View) string {
		text := said(v)
		leak, spark := strings.Index(text, "air leak"), strings.Index(text, "spark plug")
		if leak < 0 || spark < 0 || leak < spark {
			return "leak"
		}
		return "spark"
	}
	fault := func(why advice.Why, screw string) *balance.Reading {
		r := reading(advice.Fault, why)
		r.Advice.ScrewName, r.Advice.Cylinder = screw, 2
		return r
	}
	for _, c := range []struct {
		told *balance.Reading
		want string
	}{
		{fault(advice.WhyMisfires, ""), "spark"}, {fault(advice.WhyLean, "1-2"), "leak"},
		{fault(advice.WhyLean, ""), "leak"}, {fault(advice.WhyLeakNext, "1-2"), "leak"},
		{fault(advice.WhyDead, ""), "spark"},
	} {
		v := after(running(reading(advice.Turn, advice.WhyUnlevel)), 1, c.told)
		if first(&v) != c.want {
			t.Errorf("%s: %s", c.told.Advice.Why, said(&v))
		}
		v = after(press(v, "g"), 300, reading(advice.Turn, advice.WhyUnlevel))
		if v = after(v, 2, fault(advice.WhyMisfires, "")); first(&v) != "spark" || strings.Contains(said(&v), "again") {
			t.Errorf("%s, then misfires: %s", c.told.Advice.Why, said(&v))
		}
	}
}

// What differs at a raised speed is laid to no slide while the bank is not level at idle.
func TestARaisedLookOfAnUnlevelBank(t *testing.T) {
	t.Parallel()
	for spread, want := range map[pressure.KPa]string{0.3: "UNEVEN", 4: "LEVEL FIRST"} {
		s := raised.State{Done: true, Pattern: raised.OneHigh, Cylinder: 2, IdleLimit: 2.7, Limit: 0.5,
			Causes: []raised.Cause{raised.CauseSlide}}
		s.Idle.Spread, s.Raised.Spread = spread, 4
		w := RaisedWords(&s, []string{"1-2"}, pressure.Kilopascal)
		slide := strings.Contains(strings.Join(w.Say, " "), "Look first for a slide")
		if w.Big != want || slide != (want == "UNEVEN") {
			t.Errorf("spread %v: %+v", spread, w)
		}
	}
}

// That the screw between two sides comes before those of a side is told with its reason, and only then.
func TestTheScrewBetweenHasAReason(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		draws [4]pressure.KPa
		loose bool // its lock nut
		told  bool
	}{{[4]pressure.KPa{25, 25.2, 22, 22.1}, false, false}, {[4]pressure.KPa{25, 26, 20, 20}, false, true},
		{[4]pressure.KPa{25, 26, 20, 20}, true, false}} {
		v := running(reading(advice.Turn, advice.WhyUnlevel))
		v.Snap.Bank = bank.Default(4)
		between := slices.IndexFunc(v.Snap.Bank.Screws, func(s bank.Screw) bool { return len(s.Moves) > 1 })
		r := reading(advice.Turn, advice.WhyUnlevel)
		if r.Advice.Screw, r.Cylinders = between, nil; c.loose {
			r.Loose = 1 << between
		}
		for i, d := range c.draws {
			r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Draw: d})
		}
		v = after(v, 2, r)
		if told := strings.Contains(said(&v), "so it comes now"); told != c.told {
			t.Errorf("%v: %s", c.draws, said(&v))
		}
	}
}

// The screw of a cylinder that reads level is told with its reason: it is made like the one beside it first.
func TestTheScrewOfALevelCylinderHasAReason(t *testing.T) {
	t.Parallel()
	for own, told := range map[pressure.KPa]bool{0.1: true, 2: false} {
		v := running(reading(advice.Turn, advice.WhyUnlevel))
		v.Snap.Bank = bank.Default(4)
		r := reading(advice.Turn, advice.WhyUnlevel)
		r.Cylinders = nil
		for i, d := range []pressure.KPa{own, 2.8, 0, 3.2} {
			r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Draw: 25 + d, Difference: d})
		}
		r.Advice.Screw = slices.IndexFunc(v.Snap.Bank.Screws, func(s bank.Screw) bool { return s.Name == "1-2" })
		v = after(v, 2, r)
		const why = "Cylinder 1 is made like 2 first; screw 2-3 then moves both."
		if got := strings.Contains(said(&v), why); got != told {
			t.Errorf("off by %.1f kPa: %s", own, said(&v))
		}
	}
}

// A practice bike tells at its end what was the matter with it, as not all of it shows.
func TestAPracticeBikeTellsItsLesson(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Done, advice.WhyLevel))
	v.Practice = &Practice{Lesson: "A small hose was cracked."}
	if !strings.Contains(said(&v), "Practice: A small hose was cracked.") {
		t.Error(said(&v))
	}
	v.Practice = nil
	if strings.Contains(said(&v), "Practice") {
		t.Error(said(&v))
	}
}

// A try that nothing was seen of is told again with what is meant by its amount.
func TestATryThatIsToldAgain(t *testing.T) {
	t.Parallel()
	r := reading(advice.Turn, advice.WhyTry)
	r.Advice.Turns, r.Advice.Again = 3.0/16, true
	v := running(r).StartAt(StepLevel)
	if !strings.Contains(said(&v), "by 3/16 of a turn from where it is now") {
		t.Error(said(&v))
	}
}

// Where all that speaks against a level bank is how little the engine draws, g says that every cylinder fires; where
// a cylinder is ill, too, it does not.
func TestThatAllFireIsSaidByAKey(t *testing.T) {
	t.Parallel()
	for doubt, want := range map[advice.Why]bool{"": true, advice.WhyDisagree: false} {
		v := running(reading(advice.Turn, advice.WhyUnlevel))
		v = v.StartAt(StepLevel)
		r := reading(advice.Done, advice.WhyLevel)
		r.Halts.LowDraw, r.Cylinders[1].Doubt = true, doubt
		v = after(v, 1, r)
		if strings.Contains(said(&v), "All hiss? Press g.") != want {
			t.Errorf("doubt %q: %s", doubt, said(&v))
		}
		v = press(v, "g")
		goesOn := slices.ContainsFunc(v.Wants, func(w Want) bool { return w.Kind == GoOn })
		if goesOn != want || want && v.Picture().Big != "LEVEL?" {
			t.Errorf("doubt %q: after g %v, %s", doubt, v.Wants, v.Picture().Big)
		}
	}
}
