package view

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/hoses"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

var now = time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)

func reading(kind advice.Kind, why advice.Why) *balance.Reading {
	r := &balance.Reading{Time: 9, RPM: 1000, Steady: true, Reference: 1, Spread: 1.5, Cycles: 20,
		Span: cycle.Span{Cycle: true, N: 2, Start: 8.9, Period: 0.12},
		Advice: advice.Advice{Kind: kind, Part: advice.SyncScrew, Why: why, Screw: 0, Cylinder: 1, ScrewName: "1-2",
			Direction: advice.Anticlockwise, Turns: math.NaN()}}
	for i := range 2 {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Channel: i, Draw: 25 + 1.5*pressure.KPa(i),
			Difference: 1.5 * pressure.KPa(i), Uncertainty: pressure.KPa(math.NaN()), Opening: math.NaN(),
			OpeningUncertainty: math.NaN(), Ripple: 40, State: cycle.OK})
	}
	return r
}

func running(r *balance.Reading) View {
	return View{Now: now, Unit: pressure.Kilopascal, Aim: 0.5, Limit: 2.7, Flow: Flow{Off: true},
		Snap: &session.Snapshot{Phase: session.Running, LastFrame: now, Reading: r, Bank: bank.Default(2),
			Zero: session.ZeroState{Zeroed: true}}}
}

func press(v View, keys ...string) View {
	for _, k := range keys {
		v = Update(v, KeyPress{k})
	}
	return v
}

// By the bank's mean a cylinder stands as far on one side as the others do on the other.
func TestTheMeanAsReference(t *testing.T) {
	t.Parallel()
	r := reading(advice.Turn, advice.WhyUnlevel)
	r.Cylinders[0].Uncertainty, r.Cylinders[1].Uncertainty = 0, 0.2
	for keys, want := range map[string][2]string{"0": {"-0.8 ±0.1", "+0.8 ±0.1"},
		"02": {"reference", "+1.5 ±0.2"}} {
		v := press(running(r), strings.Split(keys, "")...)
		for i, l := range v.Picture().Lanes {
			got := strings.ReplaceAll(l.Difference, "−", "-")
			if got != want[i] {
				t.Errorf("%q: cylinder %d is %q, want %q", keys, i+1, got, want[i])
			}
		}
	}
}

func TestKeysAskForWhatTheySay(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	v.Practice = &Practice{Names: []string{"1-2", "stop"}}
	for key, want := range map[string]Want{
		"q": {Kind: Quit}, KeyCtrlC: {Kind: Interrupt}, "s": {Kind: Save},
		"3": {Kind: SetReference, Cylinder: 3}, "e": {Kind: StartEngine}, "b": {Kind: Blip},
		KeyRight: {Kind: TurnScrew, Turns: 0.125}, ",": {Kind: TurnScrew, Turns: -0.03125},
	} {
		t.Run(key, func(t *testing.T) {
			got := press(v, key).Wants
			if len(got) != 1 || !reflect.DeepEqual(got[0], want) {
				t.Errorf("%q wants %+v, want %+v", key, got, want)
			}
		})
	}
	if got := press(v, KeyTab, KeyLeft).Wants[0]; !reflect.DeepEqual(got,
		Want{Kind: TurnScrew, Screw: 1, Turns: -0.125}) {
		t.Errorf("after Tab: %+v", got)
	}
	if got := press(v, "z"); len(got.Wants) != 0 || !strings.Contains(got.Note, "engine runs") {
		t.Errorf("z beside a running engine wants %+v, and says %q", got.Wants, got.Note)
	}
	if v.Snap.Reading.Span.Cycle = false; len(press(v, "z").Wants) != 1 {
		t.Error("z wants nothing")
	}
	v.Snap.Reading.Span.Cycle = true
	if got := press(v, "k").Unit; got != pressure.Millibar {
		t.Errorf("unit %v", got)
	}
	if got := press(v, KeyEscape); len(got.Wants) != 0 || got.Page != PageStep {
		t.Errorf("an arrow key that comes in pieces leaves the job: %+v", got.Wants)
	}
	if press(v, "?").Page != PageHelp || press(v, "?", KeyEscape).Page != PageStep ||
		len(press(v, "?", KeyEscape).Wants) != 0 {
		t.Error("help does not open and close")
	}
	if v.Practice.Screw != 0 {
		t.Error("Update has changed the view it was given")
	}
}

// Enter answers what is asked, and never skips a step: where the keys don't name it, it does nothing.
func TestEnterOnlyAnswers(t *testing.T) {
	t.Parallel()
	for at := StepRig; at <= StepRaised; at++ {
		for _, a := range []advice.Advice{
			{Kind: advice.Turn, Part: advice.SyncScrew, Why: advice.WhyUnlevel}, {Kind: advice.Stop},
			{Kind: advice.Wait, Why: advice.WhyFewCycles}, {Kind: advice.Fault, Why: advice.WhyMisfires, Cylinder: 1},
			{Kind: advice.Recheck, Why: advice.WhyBlip}, {Kind: advice.Recheck, Why: advice.WhyNuts},
			{Kind: advice.Done, Why: advice.WhyLevel}} {
			for _, turns := range []bool{true, false} {
				v := running(reading(a.Kind, a.Why))
				v.Snap.Reading.Advice.Part, v.Snap.Reading.Span.Cycle = a.Part, turns
				v.Snap.Tune.Idle.HighRPM = 1100
				v = v.StartAt(at)
				named := strings.Contains(strings.Join(v.Picture().Keys, " "), "Enter")
				got := press(v, KeyEnter)
				if acts := got.Flow.At != at || len(got.Wants) > 0 || got.Entry != nil; acts && !named {
					t.Errorf("%s, %s %s, engine %v: Enter is not asked for, and leads to %s with %+v", at.ID(), a.Kind,
						a.Why, turns, got.Flow.At.ID(), got.Wants)
				}
				if asked := at < StepWarm || at == StepPilots || turns && (at == StepWarm || at == StepHoses ||
					a.Kind == advice.Done || a.Why == advice.WhyNuts); got.Flow.At != at && !asked {
					t.Errorf("%s, %s %s, engine %v: Enter skips it", at.ID(), a.Kind, a.Why, turns)
				}
			}
		}
	}
}

func TestPracticeKeysDoNothingOnARealBoard(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	for _, k := range []string{KeyLeft, KeyRight, ".", ",", "e", "b", "t", KeyTab} {
		if got := press(v, k).Wants; len(got) != 0 {
			t.Errorf("%q wants %+v", k, got)
		}
	}
}

func TestALevelBankIsSavedOnce(t *testing.T) {
	t.Parallel()
	saves := 0
	v := running(nil)
	for _, kind := range []advice.Kind{advice.Wait, advice.Done, advice.Done, advice.Wait, advice.Done, advice.Turn,
		advice.Done, advice.Done} {
		v = Update(v, Tick{Now: now, Snap: running(reading(kind, "")).Snap})
		saves += len(v.Wants)
	}
	if saves != 2 {
		t.Errorf("%d saves, want one for each time that the bank became level", saves)
	}
}

func TestNothingUsableIsNotSaved(t *testing.T) {
	t.Parallel()
	raced := running(reading(advice.Done, advice.WhyLevel))
	if raced.Snap.Reading.RPM = 2900; len(press(raced, "s").Wants) != 0 {
		t.Error("a raised speed is saved as an idle")
	}
	r := reading(advice.Fault, advice.WhyChannel)
	r.Cylinders[1].State = cycle.NoPulse
	v := press(running(r), "s")
	if len(v.Wants) != 0 || v.Note == "" {
		t.Errorf("wants %+v, note %q", v.Wants, v.Note)
	}
}

// Every advice and every reason has words of its own.
// allAdvice is every advice of a bank.
var allAdvice = map[advice.Kind][]advice.Why{
	advice.Wait: {advice.WhyNoCycle, advice.WhyFewCycles, advice.WhyNotSteady, advice.WhyCold, advice.WhyOffIdle,
		advice.WhyNoZero, advice.WhyNoScrew, advice.WhyOneCylinder},
	advice.Turn:    {advice.WhyUnlevel, advice.WhyTry, advice.WhyKeepOn, advice.WhySlower, advice.WhySameWay},
	advice.Reverse: {advice.WhyAway, advice.WhyTurnBack},
	advice.Stop:    {advice.WhyReached, advice.WhyAway, advice.WhyNoAnswer, advice.WhyFewCycles},
	advice.Recheck: {advice.WhyOtherScrew, advice.WhyBlip, advice.WhyNuts}, advice.Done: {advice.WhyLevel},
	advice.Fault: {advice.WhyChannel, advice.WhyDisagree, advice.WhyMisfires, advice.WhyWeakPulse, advice.WhyFar,
		advice.WhyIdleFell, advice.WhyLean, advice.WhyLeakNext, advice.WhyDead, advice.WhyShowsLess,
		advice.WhyHalfBlocked},
}

func TestEveryAdviceHasWords(t *testing.T) {
	t.Parallel()
	seen := map[string]string{}
	for kind, whys := range allAdvice {
		for _, why := range whys {
			r := reading(kind, why)
			if why == advice.WhyChannel {
				r.Cylinders[0].State = cycle.NoPulse
			}
			v := running(r)
			p := v.Picture()
			say := strings.Join(p.Say, " ")
			name := string(kind) + " " + string(why)
			if len(say) < 20 || p.Big == "" {
				t.Errorf("%s says %q, %q", name, p.Big, say)
			}
			if strings.HasPrefix(p.Big, "LOOK AT") && strings.Contains(say, "Engine off") {
				t.Errorf("%s: who glances at %q does not read %q", name, p.Big, say)
			}
			if other := seen[say]; other != "" {
				t.Errorf("%s and %s say the same", name, other)
			}
			seen[say] = name
		}
	}
}

func TestPhasesHaveWords(t *testing.T) {
	t.Parallel()
	for _, phase := range []session.Phase{session.Waiting, session.Garbled, session.Foreign, session.Lost,
		session.Ended} {
		t.Run(string(phase), func(t *testing.T) {
			v := View{Now: now, Unit: pressure.Kilopascal,
				Snap: &session.Snapshot{Phase: phase, Err: errors.New("why\x1b")}}
			p := v.Picture()
			if text := strings.Join(p.Say, " "); len(text) < 20 || strings.Contains(text, "\x1b") {
				t.Errorf("%s says %q", phase, text)
			}
		})
	}
}

// Nor do its sentences on a level bank pass for those of a synchronising screw.
func TestTheThrottleStopHasWords(t *testing.T) {
	t.Parallel()
	for _, kind := range []advice.Kind{advice.Turn, advice.Reverse, advice.Stop} {
		r := reading(kind, advice.WhyTry)
		r.Advice.Part = advice.ThrottleStop
		v := running(r)
		if p := v.Picture(); !strings.Contains(strings.ToLower(strings.Join(p.Say, " ")), "throttle stop") ||
			p.Big != "IDLE" && p.Big != "STOP" {
			t.Errorf("%s says %q, %q", kind, p.Big, p.Say)
		}
	}
}

func TestPlainLine(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel))
	line := v.Line()
	for _, want := range []string{"1000 rpm", "1: 25.0", "2: 26.5 (+1.5)", "anticlockwise"} {
		if !strings.Contains(line, want) {
			t.Errorf("%q is not in %q", want, line)
		}
	}
	if strings.Contains(line, "\n") {
		t.Error("more than one line")
	}
}

func TestExchangedHosesAreTold(t *testing.T) {
	t.Parallel()
	r := reading(advice.Turn, advice.WhyUnlevel)
	r.Hoses = hoses.Order{Verdict: hoses.Exchanged, Exchanged: [][2]int{{2, 3}}, Alternatives: [][2]int{{1, 4}}}
	v := running(r)
	if foot := v.Picture().Foot; len(foot) != 1 || !strings.Contains(foot[0].Text, "2 and 3, or 1 and 4") {
		t.Errorf("%+v", foot)
	}
	r.Hoses.Alternatives = [][2]int{}
	if foot := v.Picture().Foot; !strings.Contains(foot[0].Text, "2 and 3. Or the firing order") {
		t.Errorf("no alternative: %+v", foot)
	}
	r.HosesAside = true // told once, by the key
	if foot := v.Picture().Foot; len(foot) != 1 || !strings.Contains(foot[0].Text, "Spread") {
		t.Errorf("put aside: %+v", foot)
	}
	v.Flow.At = StepHoses
	if w := v.hosesWords(); w.Big != "HOSES" || v.faultShown() || !v.enterEnds() {
		t.Errorf("put aside, at the step: %+v", w)
	}
	v.Flow.At = StepLevel
	r.Hoses.Verdict = hoses.AsExpected
	if foot := v.Picture().Foot; len(foot) != 1 || !strings.Contains(foot[0].Text, "Spread") {
		t.Errorf("%+v", foot)
	}
}

// A fault that can be put aside is, by a key; a channel that reads nothing can't.
func TestGoingOnWithAFault(t *testing.T) {
	t.Parallel()
	for why, want := range map[advice.Why]int{advice.WhyHoses: 1, advice.WhyDisagree: 1, advice.WhyChannel: 0} {
		if got := press(running(reading(advice.Fault, why)), "g").Wants; len(got) != want {
			t.Errorf("%s: g wants %+v", why, got)
		}
	}
	swapped := running(reading(advice.Fault, advice.WhyHoses))
	swapped.Snap.Reading.Hoses = hoses.Order{Verdict: hoses.Exchanged, Exchanged: [][2]int{{2, 3}}}
	if foot := swapped.Picture().Foot; strings.Contains(foot[0].Text, "swapped") {
		t.Errorf("told twice: %q", foot[0].Text)
	}
	if got := press(swapped, "g"); got.Note != hosesAside {
		t.Errorf("hoses put aside: %q", got.Note)
	}
	if got := press(running(reading(advice.Stop, advice.WhyNoAnswer)), "g").Wants; len(got) != 1 {
		t.Errorf("nothing has answered: g wants %+v", got)
	}
	if got := press(running(reading(advice.Turn, advice.WhyTry)), "g").Wants; len(got) != 0 {
		t.Errorf("with nothing wrong g wants %+v", got)
	}
}

// A disk that is full is told with what can be done about it: a key at a screen, the folder that takes the records
// where there are no keys.
func TestNoRoomSaysWhatCanBeDone(t *testing.T) {
	t.Parallel()
	v := Update(running(reading(advice.Wait, advice.WhyMeasuring)), NoRoom{Why: "disk full", Offer: "/spare"})
	if text := v.foot()[0].Text; text != "Not kept (d: another folder): disk full" {
		t.Errorf("with keys %q", text)
	}
	v.Headless = true
	if text := v.Line(); !strings.Contains(text, "goes to /spare in the end: disk full") ||
		strings.Contains(text, "(d:") {
		t.Errorf("without keys %q", text)
	}
	v = Update(v, NoRoom{Why: "disk full"})
	if text := v.foot()[0].Text; text != "Not kept: disk full" {
		t.Errorf("with no other folder %q", text)
	}
}

// Page Up and Page Down move through pages and lists and answer nothing there; beside the engine Page Down is a
// presenter's "next".
func TestPageKeysAnswerNoList(t *testing.T) {
	t.Parallel()
	bank := bank.Default(4)
	v := Update(running(reading(advice.Recheck, advice.WhyNuts)), Bike{Checks: garage.PreStartChecks(&bank)})
	v = v.StartAt(StepChecks)
	down := press(v, KeyPageDown)
	if len(down.Ticks) != 0 || down.Cursor != pageLines {
		t.Errorf("Page Down ticks %d checks, and stands on line %d", len(down.Ticks), down.Cursor)
	}
	opened := press(v, "?")
	help := press(opened, KeyPageDown)
	if help.Page != PageHelp || help.Cursor != pageLines || slices.Equal(help.helpPage(), opened.helpPage()) {
		t.Errorf("Page Down leads to page %d, line %d", help.Page, help.Cursor)
	}
	for range 3 {
		help = press(help, KeyPageDown)
	}
	if help = press(help, KeyPageUp); help.Page != PageHelp || len(help.Ticks) != 0 {
		t.Error("Page Down and Page Up leave the help")
	}
	if got := press(v.StartAt(StepLevel), KeyPageDown).Wants; len(got) != 1 || got[0].Kind != NutTight {
		t.Errorf("a presenter's next wants %+v", got)
	}
}

// What is pasted is text in a line that is typed, all of it, and no keys elsewhere.
func TestPasteIsText(t *testing.T) {
	t.Parallel()
	text := strings.Repeat("q and z, ", 20)
	v := running(reading(advice.Wait, advice.WhyMeasuring))
	if got := press(v, KeyPasted+text); len(got.Wants) > 0 || got.Entry != nil {
		t.Errorf("pasted beside no line: %+v, %+v", got.Wants, got.Entry)
	}
	if got := press(press(press(v, "m"), KeyPasted+text), KeyEnter); got.Remark != text {
		t.Errorf("the remark is %q", got.Remark)
	}
	if got := press(press(v, "m"), KeyPageDown); got.Entry == nil || got.Entry.Text != "" || len(got.Wants) > 0 {
		t.Errorf("Page Down in a line: %+v, %+v", got.Entry, got.Wants)
	}
}
