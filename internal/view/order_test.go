package view

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/heat"
	"evendraw/internal/hoses"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// Who was told to stop the engine and look at something reads that until the engine runs again; nobody is told to
// start it meanwhile.
func TestAnOrderStaysWhileTheEngineStands(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		step Step
		why  advice.Why
		big  string
		want string
	}{
		{StepLevel, advice.WhyLean, "ENGINE OFF 2", "boot"},
		{StepLevel, advice.WhyHoses, "HOSES", "Trace each hose"},
		{StepHoses, advice.WhyHoses, "HOSES?", "Trace each hose"},
		{StepLevel, advice.WhyChannel, "ENGINE OFF 2", "hose off?"},
		{StepIdle, advice.WhyDead, "ENGINE OFF 2", "does not fire"},
		{StepLevel, advice.WhyOneSilent, "ENGINE OFF", "stopped firing"},
		{StepIdle, advice.WhyOneSilent, "ENGINE OFF", "stopped firing"},
		{StepLevel, advice.WhyNoAnswer, "NO CHANGE", "right screw"},
	} {
		v := View{Bike: "invented"}.StartAt(c.step)
		now := time.Unix(1000, 0)
		tick := func(seconds float64, turns bool, a advice.Advice) Words {
			now = now.Add(time.Duration(seconds * float64(time.Second)))
			r := &balance.Reading{Reference: 1, Cylinders: make([]balance.Cylinder, 4), RPM: 1000, Advice: a}
			r.Cylinders[1].State = cycle.Ambient
			if r.Span.Cycle = turns; turns {
				r.Hoses = hoses.Order{Verdict: hoses.Exchanged, Exchanged: [][2]int{{2, 3}}}
			}
			v = Update(v, Tick{now, &session.Snapshot{Phase: session.Running, LastFrame: now, HeatAt: now, Reading: r,
				Bank: bank.Default(4), Heat: heat.State{Seconds: 60, Turning: turns},
				Zero: session.ZeroState{Zeroed: true}}})
			return v.Picture().Words
		}
		order := advice.Advice{Kind: advice.Fault, Why: c.why, Cylinder: 2}
		if c.why == advice.WhyNoAnswer {
			order = about(advice.Stop, c.why, 0.5)
		}
		stands := advice.New(advice.Wait, advice.NoPart, advice.WhyNoCycle)
		tick(0, true, order)
		tick(1, true, advice.New(advice.Wait, advice.NoPart, advice.WhyNotSteady)) // it slows down
		for range 3 {
			w := tick(20, false, stands)
			all := strings.Join(w.Say, " ")
			if w.Big != c.big || !strings.Contains(all, c.want) {
				t.Errorf("%s at %s: %s: %s", c.why, c.step.ID(), w.Big, all)
			}
		}
		quiet := advice.New(advice.Wait, advice.NoPart, advice.WhyMeasuring)
		tick(1, true, quiet)
		tick(9, true, quiet)
		if w := tick(2, false, stands); strings.Contains(strings.Join(w.Say, " "), c.want) && c.step != StepHoses {
			t.Errorf("%s at %s is told though it is over: %s: %s", c.why, c.step.ID(), w.Big, w.Say)
		}
	}
}

// Who turns a screw back that nothing has answered to disturbs the idle: the words that have him stop the engine then
// stand meanwhile, until something else than a wait is told.
func TestNoChangeStandsWhileTheIdleIsDisturbed(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Stop, advice.WhyNoAnswer)).StartAt(StepLevel)
	v = after(v, 1, reading(advice.Stop, advice.WhyNoAnswer))
	for _, why := range []advice.Why{advice.WhyNotSteady, advice.WhyFewCycles, advice.WhyMeasuring} {
		if v = after(v, 4, reading(advice.Wait, why)); v.Picture().Big != "NO CHANGE" ||
			!strings.Contains(said(&v), "stop the engine") {
			t.Errorf("%s: %s: %s", why, v.Picture().Big, said(&v))
		}
	}
	if got := press(v, "g"); got.Picture().Big == "NO CHANGE" {
		t.Error("g does not go on")
	}
	v = after(after(v, 2, reading(advice.Stop, advice.WhyFewCycles)), 2, reading(advice.Wait, advice.WhyFewCycles))
	if v.Picture().Big != "WAIT" {
		t.Errorf("after an answer: %s", v.Picture().Big)
	}
}

// An engine that stands is asked for by a word of its own, and with the hoses on: an open port makes it race.
func TestAStandingEngineIsStarted(t *testing.T) {
	t.Parallel()
	for _, step := range []Step{StepWarm, StepLevel, StepIdle, StepRaised} {
		r := reading(advice.Wait, advice.WhyNoCycle)
		r.Span.Cycle = false
		v := running(r).StartAt(step)
		v.Snap.Zero.Zeroed, v.Snap.Tune.Idle.HighRPM = true, 1100
		v.Snap.Tune.Idle.Advice.Why = advice.WhyNoCycle
		p := v.Picture()
		all := strings.Join(p.Say, " ")
		for _, want := range []string{"oses on the ports, then start it", "Outdoors"} {
			if p.Big != "START" || !strings.Contains(all, want) {
				t.Errorf("%s: %s: %s", step.ID(), p.Big, all)
			}
		}
	}
}

// With too little idling left to be of use an engine is not started: it is said how long it is to stand first. Where a
// cool-down gives no more than that, it is started all the same.
func TestALittleIdlingLeftIsNoStart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		heat        heat.State
		big, amount string
	}{
		{heat.State{Seconds: 277}, "COOLING", "4:14"},
		{heat.State{Seconds: 277, Fan: true}, "COOLING", "2:07"},
		{heat.State{Seconds: 256}, "COOLING", "3:32"},
		{heat.State{Seconds: 255}, "START", ""},
		{heat.State{Seconds: 60, Limit: 80}, "COOLING", "2:00"},
		{heat.State{Seconds: 20, Limit: 30}, "START", ""}, // cooled, it has 30 s
	} {
		for _, step := range []Step{StepWarm, StepLevel, StepIdle, StepRaised} {
			r := reading(advice.Wait, advice.WhyNoCycle)
			r.Span.Cycle = false
			v := running(r).StartAt(step)
			v.Snap.Heat, v.Snap.Tune.Idle.HighRPM = c.heat, 1100
			v.Snap.Tune.Idle.Advice.Why = advice.WhyNoCycle
			p := v.Picture()
			if p.Big != c.big || p.Amount != c.amount || (c.amount != "") != strings.Contains(p.Say[0], "is used up") {
				t.Errorf("%s, %+v: %q %q %q", step.ID(), c.heat, p.Big, p.Amount, p.Say)
			}
		}
	}
}

// "Start it and press g": pressed before the same fault is told again, it counts, for that fault and not for another.
func TestThePastKeyMayComeBeforeItsFault(t *testing.T) {
	t.Parallel()
	for again, want := range map[advice.Why]int{advice.WhyMisfires: 1, advice.WhyHoses: 0} {
		v := running(reading(advice.Fault, advice.WhyMisfires)).StartAt(StepLevel)
		pass := func(kind advice.Kind, why advice.Why, cycle bool) {
			s := *v.Snap
			s.Reading = reading(kind, why)
			s.Reading.Span.Cycle = cycle
			s.LastFrame = v.Now.Add(2 * time.Second)
			v = Update(v, Tick{s.LastFrame, &s})
		}
		v = Update(v, Tick{now, v.Snap})
		for range 5 {
			pass(advice.Wait, advice.WhyNoCycle, false)
		}
		pass(advice.Wait, advice.WhyFewCycles, true)
		if v = press(v, "g"); len(v.Wants) != 0 {
			t.Fatalf("before it is told: %+v", v.Wants)
		}
		pass(advice.Fault, again, true)
		if n := len(v.Wants); n != want || n == 1 && v.Wants[0].Kind != GoOn {
			t.Errorf("%s told again: wants %+v", again, v.Wants)
		}
	}
}

// A rest that was begun is made to its end: half a rest is none for an engine that is as hot.
func TestARestIsMadeToItsEnd(t *testing.T) {
	t.Parallel()
	r := reading(advice.Wait, advice.WhyNoCycle)
	r.Span.Cycle = false
	v := running(r).StartAt(StepLevel)
	for _, c := range []struct {
		seconds float64
		big     string
	}{{277, "COOLING"}, {200, "COOLING"}, {151, "COOLING"}, {150, "START"}, {200, "START"}} {
		s := *v.Snap
		s.Heat, s.LastFrame = heat.State{Seconds: c.seconds}, v.Now.Add(2*time.Second)
		v = Update(v, Tick{s.LastFrame, &s})
		if got := v.Picture().Big; got != c.big {
			t.Errorf("at %.0f s: %q, want %q", c.seconds, got, c.big)
		}
	}
}

// Where what is to be looked at ends with the start, it is said beside it.
func TestALittleIdlingLeftIsSaidBesideAnOrder(t *testing.T) {
	t.Parallel()
	for seconds, want := range map[float64]bool{277: true, 200: false} {
		v := running(reading(advice.Fault, advice.WhyMisfires)).StartAt(StepLevel)
		v = Update(v, Tick{now, v.Snap})
		stood := *v.Snap
		stood.Reading = reading(advice.Wait, advice.WhyNoCycle)
		stood.Reading.Span.Cycle, stood.Heat = false, heat.State{Seconds: seconds}
		for range 2 { // it is said once
			stood.LastFrame = v.Now.Add(2 * time.Second)
			v = Update(v, Tick{stood.LastFrame, &stood})
		}
		all := said(&v)
		if n := strings.Count(all, "Most of its idling time is used up"); (n == 1) != want || n > 1 ||
			v.Picture().Big != "ENGINE OFF 1" {
			t.Errorf("%v: %q", seconds, all)
		}
	}
}

// A trim beside a bank that is not level says so first, and begins all the same where Enter says so.
func TestATrimIsOfALevelBank(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		spread pressure.KPa
		cycles int
		big    string
	}{{3.9, 20, "LEVEL FIRST"}, {3.9, 2, "PILOTS"}, {1.1, 20, "LEVEL FIRST"}, {0.9, 20, "PILOTS"}} {
		r := reading(advice.Turn, advice.WhyUnlevel)
		r.Spread, r.Cycles = c.spread, c.cycles
		v := running(r).StartAt(StepPilots)
		all := said(&v)
		told := strings.Contains(all, fmt.Sprintf("spread %.1f kPa, aim 0.5", c.spread))
		way := strings.Contains(all, "Enter begins")
		if big := v.Picture().Big; big != c.big || told != (big == "LEVEL FIRST") || !way {
			t.Errorf("%+v: %q %q", c, big, all)
		}
		if v = press(v, KeyEnter); len(v.Wants) != 1 || v.Wants[0].Kind != TrimPilots {
			t.Errorf("%+v: %+v", c, v.Wants)
		}
	}
	r := reading(advice.Wait, advice.WhyNoCycle)
	r.Span.Cycle = false
	v := running(r).StartAt(StepPilots)
	if v = press(v, KeyEnter); v.Wants != nil || !strings.HasPrefix(v.Note, "Start the engine first") {
		t.Errorf("engine off: %+v %q", v.Wants, v.Note)
	}
}

// At the step of the idle speed a bank that is not level is said to come first, and nobody waits for nothing; of a
// level one it is said what the idle is, and what it should be.
func TestTheIdleStepSaysWhatIsInItsWay(t *testing.T) {
	t.Parallel()
	wait := advice.New(advice.Wait, advice.ThrottleStop, advice.WhyFewCycles)
	low := advice.New(advice.Turn, advice.ThrottleStop, advice.WhyLow)
	low.Direction, low.Turns = advice.Clockwise, 0.125
	for _, c := range []struct {
		bank, idle advice.Advice
		big, want  string
	}{
		{about(advice.Turn, advice.WhyUnlevel, 0.5), wait, "LEVEL FIRST", "Press o"},
		{about(advice.Stop, advice.WhyNoAnswer, 0.5), wait, "LEVEL FIRST", "Press o"},
		{low, low, "IDLE", "low: 1053 rpm; it should be 1150 to 1250"},
		{advice.New(advice.Done, advice.NoPart, advice.WhyLevel), wait, "WAIT", "Hands off"},
	} {
		now := time.Unix(1000, 0)
		r := &balance.Reading{Reference: 1, Cylinders: make([]balance.Cylinder, 4), RPM: 1053, Advice: c.bank}
		r.Span.Cycle = true
		snap := &session.Snapshot{Phase: session.Running, LastFrame: now, HeatAt: now, Reading: r,
			Bank: bank.Default(4), Heat: heat.State{Seconds: 60, Turning: true}, Zero: session.ZeroState{Zeroed: true}}
		snap.Tune.Idle = mixture.IdleState{RPM: 1053, LowRPM: 1150, HighRPM: 1250, Side: mixture.Below, Advice: c.idle}
		v := Update(View{Bike: "invented"}.StartAt(StepIdle), Tick{now, snap})
		w := v.Picture().Words
		if all := strings.Join(w.Say, " "); w.Big != c.big || !strings.Contains(all, c.want) {
			t.Errorf("%s %s: %s: %s", c.bank.Kind, c.bank.Why, w.Big, all)
		}
	}
}

// The engine is never ordered off for a moment alone, as by a channel that is at fault for some cycles.
func TestABriefFaultIsReadable(t *testing.T) {
	t.Parallel()
	show := advised()
	level, fault := advice.New(advice.Done, advice.NoPart, advice.WhyLevel), about(advice.Fault, advice.WhyChannel, 0)
	fault.Cylinder = 2
	for _, c := range []struct {
		at   float64
		a    advice.Advice
		want string
	}{{0, level, "LEVEL"}, {2, fault, "ENGINE OFF 2"}, {2.1, level, "ENGINE OFF 2"}, {3.1, level, "ENGINE OFF 2"},
		{3.3, level, "LEVEL"}} {
		if got := show(c.at, c.a).Big; got != c.want {
			t.Errorf("at %g s %q, want %q", c.at, got, c.want)
		}
	}
}

// An amount told anew waits, as any other, until the word before has stood: one that shows itself late, behind a WAIT
// that was held, may be made, and the next be told, within a third of a second.
func TestANewAmountWaitsItsTurn(t *testing.T) {
	t.Parallel()
	show := advised()
	show(0, advice.New(advice.Wait, advice.NoPart, advice.WhyFewCycles))
	for _, c := range []struct {
		at   float64
		why  advice.Why
		want string
	}{{0.8, advice.WhyUnlevel, ""}, {1.3, advice.WhyKeepOn, "1/8"}, {1.6, advice.WhyUnlevel, "1/8"},
		{2.4, advice.WhyUnlevel, "1/8"}, {2.6, advice.WhyUnlevel, "+1/8"}, {3.0, advice.WhyKeepOn, "+1/8"}} {
		if got := show(c.at, about(advice.Turn, c.why, 0.125)).Amount; got != c.want {
			t.Errorf("at %g s %q, want %q", c.at, got, c.want)
		}
	}
}

// An amount that is told anew, as large as the one just turned, looks otherwise: from afar it would be the old one.
func TestANewAmountIsSeenToBeNew(t *testing.T) {
	t.Parallel()
	show := advised()
	for _, c := range []struct {
		at    float64
		why   advice.Why
		turns float64
		want  string
	}{{0, advice.WhyUnlevel, 0.125, "1/8"}, {2, advice.WhyUnlevel, 0.125, "1/8"}, {3, advice.WhyKeepOn, 0.125, "1/8"},
		{5, advice.WhyUnlevel, 0.125, "+1/8"}, {7, advice.WhyKeepOn, 0.125, "+1/8"},
		{8, advice.WhyUnlevel, 0.125, "1/8"}, {10, advice.WhyUnlevel, 0.125, "1/8"},
		{12, advice.WhyKeepOn, 0.125, "1/8"}, {14, advice.WhyUnlevel, 0.25, "1/4"}} {
		if got := show(c.at, about(advice.Turn, c.why, c.turns)).Amount; got != c.want {
			t.Errorf("at %g s %q, want %q", c.at, got, c.want)
		}
	}
}
