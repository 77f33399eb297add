package view

import (
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
)

// The key that goes on past a fault is answered: where the fault is told still some time after it, and where the engine
// stands.
func TestTheKeyThatGoesPastIsAnswered(t *testing.T) {
	t.Parallel()
	fault := reading(advice.Fault, advice.WhyMisfires)
	level := reading(advice.Turn, advice.WhyUnlevel)
	for _, still := range []bool{true, false} {
		v := press(running(fault).StartAt(StepLevel), "g")
		if v.Note != "" {
			t.Errorf("at once: %q", v.Note)
		}
		r := level
		if still {
			r = fault
		}
		for range 3 {
			snap := *running(r).Snap
			snap.LastFrame = v.Now.Add(time.Second)
			v = Update(v, Tick{Now: v.Now.Add(time.Second), Snap: &snap})
		}
		if strings.Contains(v.Note, "still so") != still {
			t.Errorf("still %v: %q", still, v.Note)
		}
	}
	stands := reading(advice.Wait, advice.WhyNoCycle)
	stands.Span.Cycle = false
	for _, order := range []string{"NO CHANGE", ""} { // with no word that sends to the engine nothing is to be started
		v := running(stands).StartAt(StepLevel)
		v.order.Big = order
		if v = press(v, "g"); strings.Contains(v.Note, "Start the engine") != (order != "") {
			t.Errorf("beside an engine that stands, word %q: %q", order, v.Note)
		}
	}
}

// What was advised before the step began, to nobody, is not told as an answer that failed to come.
func TestATryOfBeforeTheStepIsNotTold(t *testing.T) {
	t.Parallel()
	r := reading(advice.Turn, advice.WhyTry)
	r.Advice.Again = true
	v := running(r).StartAt(StepHoses)
	v.moveOn(StepLevel)
	if w := v.freshWords(r, false); w.Big != "WAIT" {
		t.Errorf("at once: %s %q", w.Big, w.Say)
	}
	v.Now = v.Now.Add(unheardTime)
	if w := v.freshWords(r, false); w.Big == "WAIT" {
		t.Errorf("later: %s %q", w.Big, w.Say)
	}
}
