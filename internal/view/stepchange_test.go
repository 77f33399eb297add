package view

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/garage"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// The words, the heading and the keys of a picture are of one step, also in the moment in which another begins.
func TestWordsAndKeysAreOfOneStep(t *testing.T) {
	t.Parallel()
	v := after(running(reading(advice.Turn, advice.WhyUnlevel)).StartAt(StepLevel), 1,
		reading(advice.Turn, advice.WhyUnlevel))
	if p := v.Picture(); p.Arrow == 0 {
		t.Fatalf("no turn is told: %+v", p.Words)
	}
	v = v.StartAt(StepKeep)
	next := after(v, 0.05, reading(advice.Turn, advice.WhyUnlevel))
	for _, p := range []Picture{v.Picture(), next.Picture()} {
		if p.Big != "SAVE" || p.Arrow != 0 || !slices.Contains(p.Keys, "s save") {
			t.Errorf("%q %d %q", p.Big, p.Arrow, p.Keys)
		}
	}
}

// A key that closes a page in other programs does not end the job here.
func TestQClosesTheHelp(t *testing.T) {
	t.Parallel()
	v := press(running(reading(advice.Turn, advice.WhyUnlevel)).StartAt(StepLevel), "?")
	quits := func(v View) bool {
		return slices.ContainsFunc(v.Wants, func(w Want) bool { return w.Kind == Quit })
	}
	if v = press(v, "q"); v.Page != PageStep || quits(v) {
		t.Errorf("page %v, wants %+v", v.Page, v.Wants)
	}
	if v = press(v, "q"); !quits(v) {
		t.Errorf("wants %+v", v.Wants)
	}
}

// A warm-up that was skipped and then waited for is the one that was waited for.
func TestAWarmUpThatIsWaitedForIsNotSkipped(t *testing.T) {
	t.Parallel()
	v := press(press(running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepWarm), "n"), "p")
	v = press(idles(v, warmSeconds+8, advice.Wait, advice.WhyFewCycles), "s")
	i := slices.IndexFunc(v.Wants, func(w Want) bool { return w.Kind == Save })
	if i < 0 || v.Wants[i].Text != garage.WarmthAssumed {
		t.Errorf("wants %+v", v.Wants)
	}
}

// What a zero pass leaves to be done with the hoses is what the next step asks for.
func TestAfterTheZeroNoOrderIsUndone(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepZero)
	s := *v.Snap
	r := *s.Reading
	r.Span.Cycle = false
	s.Reading, s.Zero = &r, session.ZeroState{Zeroed: true, Result: &sensor.Zero{}}
	s.LastFrame = v.Now.Add(time.Second / 20)
	v = Update(v, Tick{s.LastFrame, &s})
	if all := said(&v); v.Picture().Big != "ZEROED" || !strings.Contains(all, "Leave the hoses off") {
		t.Errorf("not compared: %s: %s", v.Picture().Big, all)
	}
}

// A screw that is told again soon after its nut was asked for may have been tightened: to loosen it is said.
func TestANutThatWasAskedForMayBeTight(t *testing.T) {
	t.Parallel()
	turn := func() *balance.Reading {
		r := reading(advice.Turn, advice.WhyUnlevel)
		r.Loose, r.Advice.Turns = 1<<r.Advice.Screw, 0.25
		return r
	}
	v := running(turn()).StartAt(StepLevel)
	if v = after(v, 2, turn()); strings.Contains(said(&v), "oosen") {
		t.Fatalf("no nut was asked for: %s", said(&v))
	}
	v = after(after(v, 2, reading(advice.Recheck, advice.WhyNuts)), 2, turn())
	if all := said(&v); !strings.Contains(all, "Lock nut tight again? Loosen it, then turn") ||
		!strings.Contains(all, "from where it is now") {
		t.Errorf("soon after: %s", all)
	}
	other := turn()
	other.Advice.Screw++
	other.Loose = 1 << other.Advice.Screw
	if v := after(v, 2, other); strings.Contains(said(&v), "oosen") {
		t.Errorf("of another screw: %s", said(&v))
	}
	for range 10 {
		v = after(v, 1, turn())
	}
	if strings.Contains(said(&v), "oosen") {
		t.Errorf("long after: %s", said(&v))
	}
}
