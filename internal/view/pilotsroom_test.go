package view

import (
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/session"
)

// A pilot screw is offered where it fits what idling is left, with the time in which the speed is read first; where
// none does, no key begins the trim, and that is said.
func TestAPilotScrewIsOfferedWhereItFits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		idled float64 // of 5 minutes, s
		fits  bool
	}{{150, true}, {224, true}, {226, false}, {243, false}} {
		v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepPilots)
		v.Snap.Heat.Seconds, v.Snap.Heat.Turning = c.idled, true
		all, keys := said(&v), strings.Join(v.Picture().Keys, " ")
		if strings.Contains(all, "too little for a screw") == c.fits ||
			strings.Contains(keys, "Enter begin") != c.fits {
			t.Errorf("after %g s: %s; %s", c.idled, all, keys)
		}
		if v = press(v, KeyEnter); (len(v.Wants) == 1) != c.fits || strings.Contains(v.Note, "Too little") == c.fits {
			t.Errorf("after %g s: %v, %q", c.idled, v.Wants, v.Note)
		}
	}
}

// Of a way that only the hand knows no sign is shown: a plus looks like clockwise.
func TestAnUnknownWayHasNoSign(t *testing.T) {
	t.Parallel()
	show := advised()
	a := about(advice.Turn, advice.WhySameWay, 0.125)
	a.Direction = advice.UnknownWay
	for _, at := range []float64{0, 1.3, 2.6, 4, 6} {
		if w := show(at, a); strings.Contains(w.Amount, "+") || w.Big != "GO ON" {
			t.Errorf("at %g s: %s %q", at, w.Big, w.Amount)
		}
	}
}

// A zero pass that runs is not left: it would be taken all the same, and the step count as skipped.
func TestARunningZeroIsNotSkipped(t *testing.T) {
	t.Parallel()
	v := running(nil).StartAt(StepZero)
	v.Snap.Zero = session.ZeroState{Running: true}
	if v = press(v, "n"); v.Flow.At != StepZero || !strings.Contains(v.Note, "being zeroed") {
		t.Errorf("at %s: %q", v.Flow.At.ID(), v.Note)
	}
	v.Snap.Zero = session.ZeroState{}
	if v = press(v, "n"); v.Flow.At == StepZero {
		t.Error("not left where no zero runs")
	}
}

// The page is of a record: one that lacks the remark just typed is saved anew first.
func TestThePageWaitsForTheRemark(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepKeep)
	v.Records = []string{"one"}
	if v = press(v, "i"); len(v.Wants) != 1 || v.Wants[0].Kind != PrintPage {
		t.Fatalf("%+v, %q", v.Wants, v.Note)
	}
	v = press(press(press(press(v, "m"), "x"), KeyEnter), "i")
	if len(v.Wants) != 0 || !strings.Contains(v.Note, "Save first (s)") {
		t.Errorf("%+v, %q", v.Wants, v.Note)
	}
	v.Records = append(v.Records, "two")
	if v = press(v, "i"); len(v.Wants) != 1 || v.Wants[0].Kind != PrintPage {
		t.Errorf("once saved: %+v, %q", v.Wants, v.Note)
	}
}
