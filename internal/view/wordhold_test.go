package view

import (
	"math"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// advised is a view of a running bank, and what it shows after a tick with an advice.
func advised(keys ...string) func(at float64, a advice.Advice) Words {
	four := bank.Default(4)
	v := View{Flow: Flow{Off: true}}
	return func(at float64, a advice.Advice) Words {
		for _, k := range keys { // before each tick
			v = Update(v, KeyPress{k})
		}
		now := time.Unix(1000, 0).Add(time.Duration(at * float64(time.Second)))
		r := &balance.Reading{Reference: 1, Cylinders: make([]balance.Cylinder, 4), RPM: 1000, Advice: a}
		r.Span.Cycle = true
		v = Update(v, Tick{Now: now, Snap: &session.Snapshot{Phase: session.Running, LastFrame: now, Reading: r,
			Bank: four}})
		return v.Picture().Words
	}
}

// about is an advice about screw 1-2.
func about(kind advice.Kind, why advice.Why, turns float64) advice.Advice {
	a := advice.New(kind, advice.SyncScrew, why)
	a.Screw, a.ScrewName, a.Turns, a.Direction = 0, "1-2", turns, advice.Clockwise
	return a
}

// A large word stands for 1.2 s, but before "stop" and "other way", which come at once.
func TestALargeWordStands(t *testing.T) {
	t.Parallel()
	show := advised()
	nan := math.NaN()
	for _, c := range []struct {
		at   float64
		a    advice.Advice
		want string
	}{
		{0, about(advice.Turn, advice.WhyKeepOn, nan), "GO ON"},
		{0.4, about(advice.Turn, advice.WhySlower, nan), "GO ON"},
		{0.8, about(advice.Turn, advice.WhyKeepOn, nan), "GO ON"},
		{1.1, about(advice.Turn, advice.WhySlower, nan), "GO ON"},
		{1.2, about(advice.Turn, advice.WhySlower, nan), "SLOWER"},
		{1.3, about(advice.Stop, advice.WhyReached, nan), "STOP"},
		{1.5, about(advice.Turn, advice.WhyUnlevel, 0.125), "1-2"},
		{1.6, about(advice.Turn, advice.WhyUnlevel, 0.0625), "1-2"},
		{1.7, about(advice.Reverse, advice.WhyAway, 0.125), "OTHER WAY"},
		{1.8, advice.New(advice.Wait, advice.NoPart, advice.WhyFewCycles), "WAIT"},
		{1.9, about(advice.Recheck, advice.WhyNuts, nan), "WAIT"},
		{3.1, about(advice.Recheck, advice.WhyNuts, nan), "NUT 1-2"},
	} {
		if got := show(c.at, c.a); got.Big != c.want {
			t.Errorf("%.1f s: %q, want %q", c.at, got.Big, c.want)
		}
	}
	if w := show(3.2, about(advice.Turn, advice.WhyUnlevel, 1.0/64)); w.Big != "NUT 1-2" || len(w.Say) == 0 {
		t.Errorf("%+v: neither the word nor its sentences may change", w)
	}
	if w := show(4.4, about(advice.Turn, advice.WhyUnlevel, 1.0/64)); w.Amount != "HAIR" {
		t.Errorf("amount %q", w.Amount)
	}
}

// The fault of a channel waits until the word that stands was read, that of a cylinder does not.
func TestAChannelsFaultWaitsForTheWord(t *testing.T) {
	t.Parallel()
	for why, late := range map[advice.Why]float64{advice.WhyChannel: 1.2, advice.WhyMisfires: 0.3} {
		show := advised()
		show(0, about(advice.Turn, advice.WhyUnlevel, 0.25))
		fault := about(advice.Fault, why, math.NaN())
		fault.Cylinder = 1
		for _, at := range []float64{0.3, 1.1, 1.2} {
			got := show(at, fault).Big
			if strings.HasPrefix(got, BigEngineOff) != (at >= late) {
				t.Errorf("%s, %.1f s: %q", why, at, got)
			}
		}
	}
}

// An order goes as soon as its reading is old, and what stands in its place is read; STOP stays.
func TestAnOldOrderIsNotShown(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		kind      advice.Kind
		big, want string
	}{{advice.Turn, "1-2", "NO DATA"}, {advice.Recheck, "NUT 1-2", "NO DATA"}, {advice.Stop, BigStop, BigStop}} {
		r := reading(c.kind, advice.WhyNuts)
		r.Advice = about(c.kind, advice.WhyNuts, 0.25)
		v := running(r)
		sent := v.Snap.LastFrame
		for _, look := range []struct {
			at, age time.Duration
			big     string
		}{{0, 0, c.big}, {310, 310, c.want}, {900, 900, c.want}, {910, 0, c.want}, {1600, 0, c.big}} {
			now, snap := sent.Add(look.at*time.Millisecond), *v.Snap
			snap.LastFrame = now.Add(-look.age * time.Millisecond)
			v = Update(v, Tick{Now: now, Snap: &snap})
			if p := v.Picture(); p.Big != look.big || p.Big == "NO DATA" && (p.Amount != "" || p.Arrow != 0) {
				t.Errorf("%s at %d ms: %q %s, want %q", c.kind, look.at, p.Big, p.Amount, look.big)
			}
		}
	}
}

// Enter says that the nut that is asked for is tight.
func TestEnterSaysThatANutIsTight(t *testing.T) {
	t.Parallel()
	a := about(advice.Recheck, advice.WhyNuts, math.NaN())
	v := View{Flow: Flow{At: StepBlip}, Snap: &session.Snapshot{Phase: session.Running,
		Reading: &balance.Reading{Advice: a}}}
	v = Update(v, KeyPress{KeyEnter})
	if len(v.Wants) != 1 || v.Wants[0].Kind != NutTight || v.Flow.At != StepBlip {
		t.Errorf("wants %+v at step %s", v.Wants, v.Flow.At.ID())
	}
}

// A key that answers the words lets the next ones come at once: what was answered is not read again.
func TestAnAnswerEndsTheHold(t *testing.T) {
	t.Parallel()
	for _, keys := range [][]string{nil, {"g"}} {
		show := advised(keys...)
		show(0, about(advice.Turn, advice.WhyKeepOn, math.NaN()))
		show(0.35, about(advice.Turn, advice.WhyKeepOn, math.NaN()))
		want := "GO ON"
		if keys != nil {
			want = "SLOWER"
		}
		if got := show(0.4, about(advice.Turn, advice.WhySlower, math.NaN())).Big; got != want {
			t.Errorf("%q: %q, want %q", keys, got, want)
		}
	}
}

// A key just after a word has come was for the word before: the new one stands as long as any.
func TestAKeyForTheWordBeforeAnswersNoNewOne(t *testing.T) {
	t.Parallel()
	for after, want := range map[float64]string{0.1: "BLIP", 0.25: "BLIP", 0.5: "WAIT"} {
		v := View{}.StartAt(StepLevel)
		show := func(at float64, kind advice.Kind, why advice.Why) string {
			s := *running(reading(kind, why)).Snap
			s.LastFrame = now.Add(time.Duration(at * float64(time.Second)))
			v = Update(v, Tick{s.LastFrame, &s})
			return v.Picture().Big
		}
		show(0, advice.Recheck, advice.WhyNuts)
		show(2, advice.Recheck, advice.WhyBlip)
		show(2+after, advice.Recheck, advice.WhyBlip)
		v = Update(v, KeyPress{"g"})
		show(2.05+after, advice.Recheck, advice.WhyBlip)
		if got := show(2.8, advice.Wait, advice.WhyFewCycles); got != want {
			t.Errorf("a key %.1f s after the word: %q, want %q", after, got, want)
		}
	}
}

// Only the answered word gives way at once: the one that comes for it is held as any other, also within the second.
func TestTheWordAfterAnAnswerIsHeld(t *testing.T) {
	t.Parallel()
	v := View{}.StartAt(StepLevel)
	show := func(at float64, kind advice.Kind, why advice.Why, keys ...string) string {
		for _, k := range keys {
			v = Update(v, KeyPress{k})
		}
		s := *running(reading(kind, why)).Snap
		s.LastFrame = now.Add(time.Duration(at * float64(time.Second)))
		v = Update(v, Tick{s.LastFrame, &s})
		return v.Picture().Big
	}
	show(1.5, advice.Recheck, advice.WhyNuts)
	show(1.9, advice.Recheck, advice.WhyNuts)
	for _, look := range []struct {
		at   float64
		kind advice.Kind
		why  advice.Why
		key  []string
		want string
	}{
		{2, advice.Recheck, advice.WhyNuts, []string{KeyEnter}, "NUT 1-2"}, // the answer is on its way
		{2.1, advice.Recheck, advice.WhyBlip, nil, "BLIP"},
		{2.7, advice.Wait, advice.WhyFewCycles, nil, "BLIP"},
		{3.4, advice.Wait, advice.WhyFewCycles, nil, "WAIT"},
	} {
		if got := show(look.at, look.kind, look.why, look.key...); got != look.want {
			t.Errorf("at %.1f s: %q, want %q", look.at, got, look.want)
		}
	}
}

// A fault comes at once, with the key that goes on past it; beside a turn there is none.
func TestThePastKeyStandsBesideAFault(t *testing.T) {
	t.Parallel()
	for why, want := range map[advice.Why]string{advice.WhyDisagree: "LOOK AT 1", advice.WhyMisfires: "ENGINE OFF 1"} {
		v := running(reading(advice.Turn, advice.WhyUnlevel)).StartAt(StepLevel)
		for i, kind := range []advice.Kind{advice.Turn, advice.Fault, advice.Fault, advice.Turn, advice.Turn} {
			s := *v.Snap
			s.Reading = reading(kind, why)
			s.LastFrame = v.Now.Add(100 * time.Millisecond)
			s.Reading.Advice.Cylinder = 1
			v = Update(v, Tick{s.LastFrame, &s})
			p := v.Picture()
			past := strings.Contains(strings.Join(p.Keys, " "), "g go on")
			if past != (kind == advice.Fault) || past && p.Big != want {
				t.Errorf("%s, tick %d: %q beside %q", why, i, p.Keys, p.Big)
			}
		}
	}
}

// No key goes past a cylinder that does not fire, and none is offered.
func TestNoKeyGoesPastADeadCylinder(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why, doubt advice.Why
		past       bool
	}{{advice.WhyDead, advice.WhyDead, false}, {advice.WhyLeakNext, advice.WhyDead, false},
		{advice.WhyLeakNext, advice.WhyMisfires, true}, {advice.WhyMisfires, advice.WhyMisfires, true}} {
		v := running(reading(advice.Fault, c.why)).StartAt(StepLevel)
		v.Snap.Reading.Advice.Cylinder, v.Snap.Reading.Cylinders[0].Doubt = 1, c.doubt
		v = after(v, 1, v.Snap.Reading)
		offered := strings.Contains(strings.Join(v.Picture().Keys, " "), "g go on")
		if took := len(press(v, "g").Wants) > 0; took != c.past || offered != c.past {
			t.Errorf("%s, %s: offered %v, taken %v", c.why, c.doubt, offered, took)
		}
	}
}

// That a cold engine is warmed first stands until it is seen or said to be warm; a zero pass leaves it.
func TestTheWordOfAColdEngineStands(t *testing.T) {
	t.Parallel()
	told := func(v View) bool {
		foot := v.Picture().Foot
		return len(foot) == 1 && strings.HasPrefix(foot[0].Text, WarmFirst)
	}
	v := running(reading(advice.Turn, advice.WhyUnlevel)).StartAt(StepLevel)
	v.Cold = true
	tick := func(v View, seconds int) View {
		for range 10 * seconds {
			s := *v.Snap
			s.LastFrame = v.Now.Add(100 * time.Millisecond)
			v = Update(v, Tick{s.LastFrame, &s})
		}
		return v
	}
	if v = tick(v, 12); !told(v) {
		t.Errorf("gone after 12 s: %+v", v.Picture().Foot)
	}
	if got := tick(v, 5); told(got) {
		t.Error("told of an engine that counts as warm")
	}
	for _, key := range []string{KeyEnter, "n"} {
		if got := press(v, key); told(got) || got.Cold || strings.Contains(got.Note, "Enter answers") {
			t.Errorf("%s: %+v", key, got.Picture().Foot)
		}
	}
	if at := v.StartAt(StepZero); !press(at, "n").Cold {
		t.Error("a zero pass that is skipped says that the engine is warm")
	}
}

// An amount that stands for longer than a slow hand needs is not told as if it were still to be made.
func TestAnAmountThatStandsIsNotMadeTwice(t *testing.T) {
	t.Parallel()
	for _, why := range []advice.Why{advice.WhyTry, advice.WhyUnlevel} {
		show := advised()
		a := about(advice.Turn, why, 0.25)
		for _, c := range []struct {
			at    float64
			asked bool
		}{{0, false}, {7.9, false}, {8.1, true}} {
			said := strings.Join(show(c.at, a).Say, " ")
			if strings.Contains(said, turnedIt) != c.asked {
				t.Errorf("%s, %.1f s: %q", why, c.at, said)
			}
		}
		a.Turns = 0.125
		if said := strings.Join(show(9, a).Say, " "); strings.Contains(said, turnedIt) {
			t.Errorf("%s, another amount: %q", why, said)
		}
	}
}

// With a lock nut stands the screw that comes next, where one is known; a hand that is not at the keys reads it too.
func TestTheNutNamesWhatComesNext(t *testing.T) {
	t.Parallel()
	for next, want := range map[string]string{"": "press Enter. Hands full", "3-4": "After that: screw 3-4, "} {
		r := reading(advice.Recheck, advice.WhyNuts)
		if r.Advice.Next = next; next != "" {
			r.Advice.NextWay = advice.Clockwise
		}
		v := running(r)
		if got := strings.Join(v.Picture().Say, " "); !strings.Contains(got, want) {
			t.Errorf("next %q: %q", next, got)
		}
		v.Headless, v.Flow.Off = true, true
		if got := v.Line(); strings.Contains(got, "After that") != (next != "") || strings.Contains(got, "Hands full") {
			t.Errorf("next %q: %q", next, got)
		}
	}
}

// A cylinder far below all others is asked after before its screw is turned.
func TestACylinderFarLowIsAskedAfter(t *testing.T) {
	t.Parallel()
	for low, asked := range map[float64]bool{14: true, 18: false, 30: false} {
		v := View{Limit: 2.7}
		r := &balance.Reading{}
		for i, d := range []float64{25, low, 24, 26} {
			r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Draw: pressure.KPa(d)})
		}
		v.Snap = &session.Snapshot{Reading: r}
		if note := v.farLowNote(); strings.Contains(note, "Cylinder 2 ") != asked {
			t.Errorf("%g kPa: %q", low, note)
		}
	}
}

// A lock nut that was passed by its small step alone is not told as tight: it is named, at the level bank and before
// the record.
func TestANutThatNobodyConfirmedIsNamed(t *testing.T) {
	t.Parallel()
	for nuts, want := range map[uint]string{0: "", 2: "Is nut 3-4 tight?", 3: "Is nut 1-2 tight? Nut 3-4 tight?"} {
		r := reading(advice.Done, advice.WhyLevel)
		r.NutsUnsaid = nuts
		for loose, open := range map[uint]string{0: "", 4: strings.TrimSpace("Still loose: nut 2-3. " + want)} {
			v := running(r)
			v.Snap.Bank, r.Loose = bank.Default(4), loose
			if got := v.nuts(false); got != open {
				t.Errorf("nuts %b, loose %b: %q", nuts, loose, got)
			}
		}
		r.Loose = 0
		for _, step := range []Step{StepLevel, StepKeep} {
			v := running(r).StartAt(step)
			v.Snap.Bank = bank.Default(4)
			p := v.Picture()
			said := strings.Join(p.Say, " ")
			if want == "" && strings.Contains(said, "Is nut") || !strings.Contains(said, want) ||
				strings.Contains(said, "with its lock nuts tight") && nuts != 0 {
				t.Errorf("nuts %b, step %s: %q", nuts, step.ID(), said)
			}
		}
	}
}

// Enter says yes to what is asked of lock nuts beside a level bank; the record is written anew, and the next Enter goes
// on. With the engine off nothing is read any more that could take it up: Enter goes on then.
func TestEnterSaysYesToTheNuts(t *testing.T) {
	t.Parallel()
	r := reading(advice.Done, advice.WhyLevel)
	r.NutsUnsaid = 3
	v := running(r).StartAt(StepLevel)
	v.Snap.Bank, v.saved = bank.Default(4), true
	if keys := strings.Join(v.keyLine(), "  "); !strings.HasPrefix(keys, "Enter nut tight") {
		t.Error(keys)
	}
	v = after(v, 2, r)
	v = press(v, KeyEnter)
	if len(v.Wants) == 0 || v.Wants[0].Kind != NutTight || v.Flow.At != StepLevel || v.saved {
		t.Errorf("wants %+v at %s, saved %v", v.Wants, v.Flow.At.ID(), v.saved)
	}
	said := *r
	said.NutsUnsaid = 0
	v = after(v, 1, &said)
	if v = press(v, KeyEnter); v.Flow.At == StepLevel {
		t.Error("the next Enter does not go on")
	}
	r.Span.Cycle = false
	stands := running(r).StartAt(StepLevel)
	stands.Snap.Bank = bank.Default(4)
	if stands.asksNuts() {
		t.Error("asked beside a standing engine")
	}
	loose := reading(advice.Wait, advice.WhyNoCycle)
	loose.Span.Cycle, loose.Loose = false, 1
	stands = running(loose).StartAt(StepLevel)
	stands.Snap.Bank = bank.Default(4)
	if stands = press(after(stands, 2, loose), KeyEnter); !strings.Contains(stands.Note, "Once it runs again") {
		t.Errorf("a nut left loose, the engine off: %q", stands.Note)
	}
}
