package view

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/plain"
	"evendraw/internal/raised"
	"evendraw/internal/session"
)

// hotRun is a practice engine whose bytes a session reads, with the time of both.
type hotRun struct {
	t      *testing.T
	engine *engine.Engine
	sess   *session.Chain
	newest *balance.Reading
	begun  time.Time
	views  [stepCount]View // a screen for each step, which sees what came before
}

func newHotRun(t *testing.T, limit float64) *hotRun {
	twin := bank.Default(2)
	h := &hotRun{t: t, engine: engine.New(engine.Config{Bank: twin, Seed: 3, Running: true, NoSensorErrors: true})}
	h.sess = session.NewChain(session.Config{Bank: &twin, Ambient: engine.DefaultAmbient, Zeroed: true,
		IdlingLimit: limit}, func(r *balance.Reading) { h.newest = r })
	h.begun = time.Now()
	return h
}

// second lets a second pass, and returns what every step and page of the screen says at its end.
func (h *hotRun) second() (big map[string]bool, amount string) {
	buf := make([]byte, 1024)
	for range 4 {
		for end := h.engine.Truth().TimeS + 0.25; h.engine.Truth().TimeS < end; {
			n, _ := h.engine.Read(buf)
			if err := h.sess.Feed(buf[:n]); err != nil {
				h.t.Fatal(err)
			}
		}
		h.tick()
	}
	big = map[string]bool{}
	for step := range stepCount {
		for page := PageStep; page <= PageHelp; page++ {
			v := h.views[step]
			v.Page = page
			p := v.Picture()
			if p.Help == nil && p.Waves == nil {
				big[p.Big] = true
			} else {
				big["covered"] = true
			}
			if step.live() && page == PageStep {
				amount = p.Amount
			}
		}
	}
	return big, amount
}

// tick lets every screen see what the session says now.
func (h *hotRun) tick() {
	now, bank := h.begun.Add(time.Duration(h.engine.Truth().TimeS*float64(time.Second))), h.sess.Bank()
	snap := &session.Snapshot{Phase: session.Running, LastFrame: now, HeatAt: now, Reading: h.newest,
		Bank: bank, Config: h.sess.Config(), Tune: h.sess.Tune(), Heat: h.sess.Heat(), Journal: h.sess.Journal()}
	for step := range stepCount {
		v := h.views[step]
		v.Checks, v.Flow = garage.PreStartChecks(&bank), Flow{At: step, chosen: true}
		if !v.hold.since.IsZero() { // the word that stands has always just come
			v.hold.since = v.Now
		}
		v = Update(v, Tick{Now: now, Snap: snap})
		v.Flow.At = step
		h.views[step] = v
	}
}

// No second of idling beyond the limit passes without the words, in any step and on any page, whatever
// stage is under way; then the cooling is counted down to its end, with and without a fan, as the
// engine's own clock has it.
func TestEverySecondBeyondTheLimitIsSaid(t *testing.T) {
	const limit = 8.0
	for name, begin := range map[string]func(c *session.Chain) error{
		"levelling": func(*session.Chain) error { return nil },
		"pilots":    func(c *session.Chain) error { return c.StartTrim(mixture.TrimConfig{}) },
		"raised":    func(c *session.Chain) error { return c.StartRaised(raised.Config{}) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			h := newHotRun(t, limit)
			h.second()
			if err := begin(h.sess); err != nil {
				t.Fatal(err)
			}
			near := false
			for h.engine.Truth().HeatS < limit+4 {
				big, _ := h.second()
				now := h.sess.Heat()
				near = near || HeatLine(&now) != ""
				// A cycle is known half a cycle after its end, and the engine had run before the first.
				if off := h.engine.Truth().HeatS - now.Seconds; off < 0 || off > 1 {
					t.Fatalf("the clock says %.2f s, the engine's %.2f", now.Seconds, h.engine.Truth().HeatS)
				}
				if said := len(big) == 1 && big["ENGINE OFF"]; said != (now.Seconds >= limit) {
					t.Fatalf("at %.1f of %g s: %v", now.Seconds, limit, big)
				}
			}
			if !near {
				t.Error("nothing was said before the limit")
			}
			h.engine.Stop()
			h.sess.SetFan(name == "raised")
			h.engine.Fan(name == "raised")
			h.second()
			h.second()
			for last := 1e9; h.sess.Heat().Hot; {
				big, amount := h.second()
				left := h.sess.Heat().CoolS(h.sess.Heat().Fan)
				good := big["COOLING"] && amount == plain.Clock(left) && !big["ENGINE OFF"] && left < last
				if h.sess.Heat().Hot && !good {
					t.Fatalf("%.1f s left: %v %q", left, big, amount)
				}
				last = left
			}
			if at := h.engine.Truth().HeatS; at > 0.5*limit+1 {
				t.Errorf("called cool at %.1f s", at)
			}
		})
	}
}

// While no frames come an engine that turned is taken to go on.
func TestHeatWithoutFrames(t *testing.T) {
	now := time.Now()
	snap := &session.Snapshot{Phase: session.Lost, LastFrame: now, HeatAt: now,
		Heat: heat.State{Seconds: 290, Turning: true}}
	for _, row := range []struct {
		after time.Duration
		off   bool
	}{{9 * time.Second, false}, {10 * time.Second, true}} {
		v := View{Now: now.Add(row.after), Snap: snap}
		v.Flow.At = StepPilots
		if p := v.Picture(); (p.Big == "ENGINE OFF") != row.off {
			t.Errorf("after %v: %s", row.after, p.Big)
		}
	}
}

// A fan that blows is not asked for once more.
func TestNoFanIsAskedForTwice(t *testing.T) {
	t.Parallel()
	for _, fan := range []bool{false, true} {
		h := heat.State{Seconds: 250, Turning: true, Fan: fan}
		if text := HeatLine(&h); strings.Contains(text, "fan") == fan {
			t.Errorf("fan %v: %s", fan, text)
		}
	}
}

// A practice engine's place is not kept: the words say what is so instead.
func TestPracticeKeepsNoPlace(t *testing.T) {
	t.Parallel()
	for _, turning := range []bool{false, true} {
		v := running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepLevel)
		v.Snap.Heat = heat.State{Seconds: 301, Hot: true, Turning: turning}
		bike, _ := v.heatWords()
		v.Practice = &Practice{}
		practice, _ := v.heatWords()
		if all := strings.Join(bike.Say, " "); !strings.Contains(all, placeKept) || strings.Contains(all, practiceWay) {
			t.Errorf("of a bike: %s", all)
		}
		all := strings.Join(practice.Say, " ")
		if strings.Contains(all, placeKept) || !strings.Contains(all, practiceWay) {
			t.Errorf("of a practice engine: %s", all)
		}
	}
}

// Who leaves a pilot screw in the middle of its trial is told how to turn it back.
func TestAnOpenPilotIsToldBack(t *testing.T) {
	t.Parallel()
	for moved, want := range map[float64]string{0.75: "back: in by 3/4 of", -0.25: "back: out by 1/4 of"} {
		v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepPilots)
		v.Snap.Tune.Trim = &mixture.TrimState{Step: mixture.StepTurn, Cylinder: 1, Cylinders: 2,
			Pilots: [bank.MaxCylinders]mixture.Pilot{{Cylinder: 1, StartOut: math.NaN(), Moved: moved}}}
		if note := press(v, "n").Note; !strings.Contains(note, want) {
			t.Errorf("moved %g out: %s", moved, note)
		}
	}
}

// Before the trim is gone on with and before a record is saved the screen says which pilot screw stands in a trial
// position; x takes it as turned back, and is no key where none does.
func TestATrialPositionIsShown(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		at   Step
		says string
	}{{StepPilots, "Turned back to where it was? Then x first."}, {StepKeep, "Turn it back, then x"}} {
		v := running(reading(advice.Done, advice.WhyLevel)).StartAt(row.at)
		v.Snap.Tune.Pilots = []mixture.Pilot{{Cylinder: 1, Found: mixture.AtPeak, StartOut: 2, Moved: 0.5},
			{Cylinder: 2, Found: mixture.Trimming, StartOut: 2, Moved: 0.625}}
		say := strings.Join(v.stepWords().Say, " ")
		if !strings.Contains(say, "stands in a trial position, 2 5/8 turns out (back: in by 5/8 of a turn)") ||
			!strings.Contains(say, row.says) {
			t.Errorf("%s: %s", row.at.Name(), say)
		}
		v.Practice = &Practice{Names: []string{"1-2", StopName, "pilot 1", "pilot 2"}}
		if _, to := v.inReach(); to != 4 {
			t.Errorf("%s: the pilot screws are out of reach", row.at.Name())
		}
		v.Practice = nil
		if w := press(v, "x").Wants; len(w) == 0 || w[len(w)-1].Kind != PilotsBack {
			t.Errorf("%s, x: %+v", row.at.Name(), w)
		}
		v.Snap.Tune.Pilots[1].PutBack()
		if v = press(v, "x"); len(v.inTrial()) > 0 || slices.ContainsFunc(v.Wants, func(w Want) bool {
			return w.Kind == PilotsBack
		}) {
			t.Errorf("%s, back: %+v", row.at.Name(), v.Wants)
		}
	}
}

// A screw whose best is known and whose last turn nobody confirmed may stand there already.
func TestAnOpenLastTurnIsTold(t *testing.T) {
	t.Parallel()
	trim := mixture.TrimState{Step: mixture.StepSet, Cylinder: 1, Cylinders: 1}
	trim.Pilots[0] = mixture.Pilot{Cylinder: 1, Found: mixture.ToSet, StartOut: 2, Moved: 0.25, Best: 0.5, Open: 0.25,
		Lambda: math.NaN()}
	if lines := pilotwords.Lines(&trim); !strings.HasSuffix(lines[0], "was made, it stands at 2 1/2 turns out.") {
		t.Errorf("%q", lines)
	}
}

// A trim that is left while a turn is told, which may have been made, says so, and what then is to be done.
func TestAnOpenTurnIsTold(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name        string
		moved, open float64
		want        string // "" for no line
	}{
		{"first", 0, 0.75, "Was its last turn made? Then undo it: in by 3/4 of a turn."},
		{"later", -0.625, 0.5, "Was its last turn made? Then undo it: in by 1/2 of a turn. It stands in a trial " +
			"position, 1 3/8 turns out (back: out by 5/8 of a turn)."},
		{"none told", 0, 0, ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			trim := mixture.TrimState{Step: mixture.StepTurn, Cylinder: 1, Cylinders: 2}
			trim.Pilots[0] = mixture.Pilot{Cylinder: 1, Found: mixture.Trimming, StartOut: 2, Moved: row.moved,
				Open: row.open}
			trim.Pilots[1] = mixture.Pilot{Cylinder: 2, StartOut: 2}
			for _, tune := range []session.Tune{{Trim: &trim}, {Pilots: trim.Pilots[:2]}} { // under way, and left
				lines := strings.Join(pilotwords.TrialLines(&tune), "|")
				if !strings.HasSuffix(lines, row.want) || row.want == "" != (lines == "") ||
					strings.Contains(lines, "screw 2") {
					t.Errorf("%q, want %q", lines, row.want)
				}
			}
			v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepPilots)
			v.Snap.Tune.Trim = &trim
			if v = press(v, "p"); row.want == "" != !strings.Contains(v.Note, "left in the middle") ||
				!strings.Contains(v.Note, row.want) {
				t.Errorf("left: %q", v.Note)
			}
		})
	}
}

// While the engine stands or is to stand for the heat, a lock nut that was left loose is named: it shakes further.
func TestALooseNutIsNamedBesideTheHeat(t *testing.T) {
	t.Parallel()
	for _, turning := range []bool{true, false} {
		r := reading(advice.Turn, advice.WhyUnlevel)
		r.Span.Cycle, r.Loose = turning, 1
		v := running(r).StartAt(StepLevel)
		v.Snap.Bank = bank.Default(4)
		v.Snap.Heat = heat.State{Seconds: 300, Hot: true, Turning: turning}
		if all := said(&v); !strings.Contains(all, "Still loose: nut 1-2.") {
			t.Errorf("turning %v: %s", turning, all)
		}
		v.Snap.Bank.NoLockNuts = true
		if all := said(&v); strings.Contains(all, "Still loose") {
			t.Errorf("a bank without lock nuts: %s", all)
		}
	}
}
