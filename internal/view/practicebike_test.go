package view

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/mixture"
)

// A practice engine is the bike: there is none to choose, and its checks stay; the page's key says where it counts.
func TestPracticeHasNoOtherBike(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Practice, v.Flow = &Practice{}, Flow{At: StepChecks}
	if v = press(v, "p"); v.Flow.At != StepChecks || !strings.Contains(v.Note, "no other") {
		t.Errorf("%v, %q", v.Flow.At, v.Note)
	}
	if v = press(v, "o", KeyUp, KeyEnter); v.Flow.At == StepBike {
		t.Errorf("chosen from the steps' list: %v", v.Flow.At)
	}
	v = press(v, KeyEscape)
	v.Practice = nil
	if v = press(v, "p"); v.Flow.At != StepBike {
		t.Errorf("a bike of one's own: %v", v.Flow.At)
	}
	v.Flow = Flow{At: StepPilots}
	if v = press(v, "i"); len(v.Wants) != 0 || !strings.Contains(v.Note, StepKeep.Name()) {
		t.Errorf("i wants %v, %q", v.Wants, v.Note)
	}
}

// What was found of pilot screws is dropped at the second press only; where nothing was found the first is enough.
func TestTrimmingAnewIsAsked(t *testing.T) {
	t.Parallel()
	for found, asked := range map[mixture.Found]bool{mixture.Pending: false, mixture.AtPeak: true} {
		v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepPilots)
		v.Snap.Tune.Pilots = []mixture.Pilot{{Found: found}, {Found: mixture.Pending}}
		anew := func() bool { return len(v.Wants) > 0 && v.Wants[0].Kind == TrimAnew }
		if v = press(v, "y"); anew() == asked || asked && !strings.Contains(v.Note, "y = again") {
			t.Errorf("%v: wants %+v, %q", found, v.Wants, v.Note)
		}
		if v = press(v, "y"); !anew() {
			t.Errorf("%v: the second y wants %+v", found, v.Wants)
		}
	}
}

// The key that looks for a cause and mends it is shown beside a fault, and while the engine stands because of what was
// told: not beside an engine that runs on without a fault.
func TestMendIsShownBesideAFaultAlone(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		kind   advice.Kind
		why    advice.Why
		cycles bool
		want   bool
	}{{advice.Fault, advice.WhyDead, true, true}, {advice.Turn, advice.WhyUnlevel, true, false},
		{advice.Turn, advice.WhyUnlevel, false, true}} {
		v := running(reading(c.kind, c.why))
		v.Practice, v.Flow = &Practice{Names: []string{"1-2", StopName}}, Flow{At: StepLevel}
		v.order = words("MISFIRE", Bad, "Told before.")
		v.Snap.Reading.Span.Cycle, v.Snap.Heat.Turning = c.cycles, c.cycles
		if got := slices.Contains(v.keyLine(), "x mend"); got != c.want {
			t.Errorf("%v, %v, runs %v: %v", c.kind, c.why, c.cycles, got)
		}
	}
}

// Enter beside the question whether the engine is warm says that it is, though a screw is told; where a record was
// saved in this step it does not save another.
func TestEnterIsTakenForWhatIsAsked(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Flow, v.Cold = Flow{At: StepLevel}, true
	if v = press(v, KeyEnter); v.Cold || v.Note != "Taken as warm." {
		t.Errorf("cold %v, %q", v.Cold, v.Note)
	}
	v = running(reading(advice.Recheck, advice.WhyNuts)) // one Enter answers one question
	v.Snap.Reading.Advice.Part, v.Flow, v.Cold = advice.SyncScrew, Flow{At: StepLevel}, true
	p := v.Picture()
	if v = press(v, KeyEnter); !v.Cold || strings.Contains(fmt.Sprint(p), "as warm as") {
		t.Errorf("a nut that is tight counts as an engine that is warm")
	}
	v = running(reading(advice.Done, advice.WhyLevel))
	v.Flow, v.read, v.Records = Flow{At: StepKeep}, true, []string{"1"}
	for key, saves := range map[string]bool{KeyEnter: false, "s": true} {
		if got := len(press(v, key).Wants) > 0; got != saves {
			t.Errorf("%q saves: %v", key, got)
		}
	}
}
