package screen

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/hoses"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/probe"
	"evendraw/internal/raised"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

var noon = time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)

// snapshot is a steady idle of a four that stands unevenly.
func snapshot() *session.Snapshot {
	r := &balance.Reading{Time: 42, RPM: 1053, Steady: true, Reference: 1, Spread: 3.4, SpreadUncertainty: 0.1,
		Cycles: 60,
		Span:   cycle.Span{Cycle: true, N: 4, Period: 0.114},
		Advice: advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, Screw: 2, ScrewName: "2-3",
			Direction: advice.Clockwise, Turns: 0.375,
			Why: advice.WhyUnlevel}}
	for i, d := range []float64{0, 0.2, 3.4, 3.1} {
		r.Cylinders = append(r.Cylinders, balance.Cylinder{Cylinder: i + 1, Channel: i, Draw: pressure.KPa(22.4 + d),
			Difference: pressure.KPa(d), Uncertainty: 0.12, Ripple: 60, State: cycle.OK})
	}
	r.Cylinders[0].Uncertainty = 0
	s := &session.Snapshot{Phase: session.Running, LastFrame: noon, HeatAt: noon, Reading: r, Bank: bank.Default(4),
		Board: board(), Counts: [8]uint16{410, 402, 377, 380},
		Link: session.Link{Stats: frame.Stats{Frames: 173000}},
		Heat: heat.State{Seconds: 133, Turning: true}}
	zeroed(s)
	return s
}

// board is what an invented board says of itself.
func board() *frame.Announcement {
	a := &frame.Announcement{Serial: "INVENTED", Model: "uno", Program: "1.0.0", Bits: 10, ReferenceMV: 5000,
		Rate: 1000}
	for range 4 {
		a.Channels = append(a.Channels, frame.Channel{Role: frame.Pressure, Unit: "kPa"})
	}
	return a
}

func newView(s *session.Snapshot) view.View {
	v := view.View{Now: noon.Add(40 * time.Millisecond), Snap: s, Bike: "Invented four", Unit: pressure.Kilopascal,
		Limit: 2.7, Aim: 0.5}
	return v.StartAt(view.StepLevel)
}

// with returns the view of a snapshot that change has changed.
func with(change func(s *session.Snapshot, v *view.View)) view.View {
	s := snapshot()
	v := newView(s)
	change(s, &v)
	return passing(v, 0)
}

// at is with at another step of the job.
func at(step view.Step, change func(s *session.Snapshot, v *view.View)) view.View {
	return with(func(s *session.Snapshot, v *view.View) {
		*v = v.StartAt(step)
		change(s, v)
	})
}

func advised(kind advice.Kind, why advice.Why) func(s *session.Snapshot, v *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		s.Reading.Advice.Kind, s.Reading.Advice.Why, s.Reading.Advice.Turns = kind, why, math.NaN()
	}
}

func keys(k ...string) func(s *session.Snapshot, v *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		for _, key := range k {
			*v = view.Update(*v, view.KeyPress{Key: key})
		}
	}
}

var fourBikes = func(s *session.Snapshot, v *view.View) {
	b := bank.Default(4)
	*v = view.Update(*v, view.Bike{Name: v.Bike, Unit: v.Unit, Aim: v.Aim, Limit: v.Limit,
		Checks: garage.PreStartChecks(&b), All: []string{"Invented four", "Kleine Zweizylinder", "古い四気筒"}})
}

// states are the pictures that are kept.
var states = map[string]view.View{
	"turn": passing(newView(snapshot()), 1),
	"turn-anticlockwise": with(func(s *session.Snapshot, v *view.View) {
		s.Reading.Advice.Direction, s.Reading.Advice.Turns = advice.Anticlockwise, 0.4375
	}),
	"stop":      with(levelAnd(advised(advice.Stop, advice.WhyReached))),
	"no-answer": with(advised(advice.Stop, advice.WhyNoAnswer)),
	"no-answer-again": with(func(s *session.Snapshot, v *view.View) {
		advised(advice.Stop, advice.WhyNoAnswer)(s, v)
		s.Reading.Advice.Again = true
	}),
	"no-answer-pause": with(func(s *session.Snapshot, v *view.View) {
		advised(advice.Stop, advice.WhyNoAnswer)(s, v)
		s.Reading.Advice.Answered = true
	}),
	"lean":    with(ill(advice.WhyLean)),
	"weak":    with(ill(advice.WhyShowsLess)),
	"nut":     with(levelAnd(advised(advice.Recheck, advice.WhyNuts))),
	"cold":    with(advised(advice.Wait, advice.WhyCold)),
	"reverse": with(advised(advice.Reverse, advice.WhyAway)),
	"reverse-by": with(func(s *session.Snapshot, v *view.View) {
		advised(advice.Reverse, advice.WhyAway)(s, v)
		s.Reading.Advice.Turns = 0.125
	}),
	"slower": with(func(s *session.Snapshot, v *view.View) {
		advised(advice.Turn, advice.WhySlower)(s, v)
		s.Reading.Advice.Direction, s.Reading.Advice.Turns = advice.Anticlockwise, math.NaN()
	}),
	"wait": with(advised(advice.Wait, advice.WhyFewCycles)),
	"done": with(levelAnd(advised(advice.Done, advice.WhyLevel))),
	"strained": with(levelAnd(func(s *session.Snapshot, v *view.View) {
		advised(advice.Done, advice.WhyLevel)(s, v)
		drawLess(s, 13)
	})),
	"fault": with(func(s *session.Snapshot, v *view.View) {
		s.Reading.Advice = advice.Advice{Kind: advice.Fault, Cylinder: 3, Why: advice.WhyChannel}
		c := &s.Reading.Cylinders[2]
		c.State, c.Draw, c.Difference, s.Reading.Spread = cycle.Ambient, 0, pressure.KPa(math.NaN()), 3.1
	}),
	"inches": with(func(s *session.Snapshot, v *view.View) { v.Unit = pressure.InchHg }),
	"no-zero": with(func(s *session.Snapshot, v *view.View) {
		level(s, v)
		s.Reading.Spread, s.Reading.Cylinders[2].Draw, s.Reading.Cylinders[2].Difference = 0.8, 24.8, 0.7
		s.Zero, s.Config = session.ZeroState{}, session.Config{Ambient: 101.3}
		advised(advice.Wait, advice.WhyNoZero)(s, v)
	}),
	"near-hot": with(func(s *session.Snapshot, v *view.View) { s.Heat.Run(107, 1) }),
	"hot":      with(func(s *session.Snapshot, v *view.View) { s.Heat.Run(168, 1) }),
	"hot-help": with(func(s *session.Snapshot, v *view.View) {
		s.Heat.Run(168, 1)
		keys("?")(s, v)
	}),
	"cooling": at(view.StepPilots, func(s *session.Snapshot, v *view.View) {
		still(s, v)
		s.Heat = heat.State{Seconds: 301, Hot: true}
	}),
	"stale":  with(func(s *session.Snapshot, v *view.View) { v.Now = noon.Add(500 * time.Millisecond) }),
	"silent": with(func(s *session.Snapshot, v *view.View) { v.Now = noon.Add(1500 * time.Millisecond) }),
	"lost": with(func(s *session.Snapshot, v *view.View) {
		s.Phase = session.Lost
		v.Now = noon.Add(5 * time.Second)
	}),
	"practice": with(func(s *session.Snapshot, v *view.View) {
		v.Practice = &view.Practice{Running: true, Screw: 1, Names: []string{"1-2", "3-4", "2-3", view.StopName},
			Turns: []float64{0.25, 0, 0, 0}}
	}),
	"truth": with(func(s *session.Snapshot, v *view.View) {
		v.Practice = &view.Practice{Running: true, Truth: true, Names: []string{"1-2", "3-4", "2-3", view.StopName},
			TrueDraws: []pressure.KPa{22.4, 22.6, 25.8, 25.5}, TrueOpenings: []float64{1, 0.99, 0.87, 0.88}}
	}),
	"alone": with(keys("a")),
	"help":  with(keys("?")),
	"waves": with(func(s *session.Snapshot, v *view.View) {
		s.Wave = wave()
		keys("w")(s, v)
	}),
	"phone": with(func(s *session.Snapshot, v *view.View) {
		v.Phone = &view.Phone{Addresses: []string{"http://192.168.7.20:7204/ABCDEFGHJK23",
			"http://[fd00::20]:7204/ABCDEFGHJK23"}, Code: squares(25), Looking: 1, Most: 16}
		keys("u")(s, v)
	}),
	"rig":    with(keys("r")),
	"steps":  with(keys("o", view.KeyDown)),
	"remark": with(keys("m", "n", "e", "w", " ", "j", "e", "t", "s")),
	"replay": with(func(s *session.Snapshot, v *view.View) { v.Flow.Off, v.Recording = true, true }),
	"bike":   at(view.StepBike, fourBikes),
	"checks": at(view.StepChecks, func(s *session.Snapshot, v *view.View) {
		fourBikes(s, v)
		keys(" ", " ", "x", " ")(s, v)
	}),
	"board": at(view.StepRig, func(s *session.Snapshot, v *view.View) {
		*s = session.Snapshot{Phase: session.Waiting}
		v.LinkNote = "no board found"
	}),
	"bare": at(view.StepRig, bare(view.BareBoard{Port: "/dev/ttyUSB0"})),
	"bare-asked": at(view.StepRig, bare(view.BareBoard{Port: "/dev/ttyUSB0",
		Loses: (&tell.OnBoard{Bytes: 1}).Loses()})),
	"bare-written": at(view.StepRig, bare(view.BareBoard{Port: "/dev/ttyUSB0", Busy: true, Done: 43})),
	"zero":         at(view.StepZero, noZero),
	"zeroing": at(view.StepZero, func(s *session.Snapshot, v *view.View) {
		noZero(s, v)
		s.Zero = session.ZeroState{Running: true, Progress: 0.6}
	}),
	"match": at(view.StepMatch, still),
	"matching": at(view.StepMatch, func(s *session.Snapshot, v *view.View) {
		s.Match = session.MatchState{Running: true, Progress: 0.4, Level: 24.3}
	}),
	"unmatched": with(func(s *session.Snapshot, v *view.View) {
		level(s, v)
		advised(advice.Done, advice.WhyLevel)(s, v)
		s.Reading.GainUncertainty = 0.53
	}),
	"mean": with(func(s *session.Snapshot, v *view.View) { // by the card, as by key 0
		*v = view.Update(*v, view.Bike{Name: v.Bike, Unit: v.Unit, Aim: v.Aim, Limit: v.Limit, ByMean: true})
	}),
	"start": at(view.StepWarm, still), "warm": at(view.StepWarm, settling(10)),
	"warmed": at(view.StepWarm, settling(17)),
	"late":   at(view.StepRaised, func(s *session.Snapshot, _ *view.View) { s.Heat.Seconds, s.Heat.Hot = 284, true }),
	"hoses": at(view.StepHoses, func(s *session.Snapshot, v *view.View) {
		s.Reading.Hoses = hoses.Order{Verdict: hoses.Exchanged, Exchanged: [][2]int{{2, 3}}}
	}),
	"blip": at(view.StepBlip, levelAnd(advised(advice.Recheck, advice.WhyBlip))),
	"idle": at(view.StepIdle, func(s *session.Snapshot, v *view.View) {
		level(s, v)
		s.Tune.Idle = mixture.IdleState{RPM: 1053, LowRPM: 1150, HighRPM: 1250,
			Advice: advice.Advice{Kind: advice.Turn, Part: advice.ThrottleStop, Direction: advice.Clockwise,
				Turns: 0.25}}
	}),
	"pilots": at(view.StepPilots, level),
	"pilot-turn": at(view.StepPilots, func(s *session.Snapshot, v *view.View) {
		level(s, v)
		s.Tune.Trim = &mixture.TrimState{Step: mixture.StepTurn, Cylinder: 3, Cylinders: 4, RicherKnown: true,
			Richer: true,
			LeftS:  4.2,
			Advice: advice.Advice{Kind: advice.Turn, Part: advice.PilotScrew, Cylinder: 3,
				Direction: advice.Anticlockwise,
				Turns:     0.625, Why: advice.WhySeek}}
	}),
	"pilot-lambda": at(view.StepPilots, func(s *session.Snapshot, v *view.View) {
		level(s, v)
		s.Tune.Lambda = &probe.State{Lambda: 0.93, AFR: 13.6}
		s.Tune.Trim = &mixture.TrimState{Step: mixture.StepTurn, Cylinder: 3, Cylinders: 4, LeftS: 4.2, Target: 0.95,
			Advice: advice.Advice{Kind: advice.Hold, Part: advice.PilotScrew, Cylinder: 3}}
	}),
	"start-help": at(view.StepWarm, keys("?")),
	"raised": at(view.StepRaised, func(s *session.Snapshot, v *view.View) {
		level(s, v)
		s.Tune.Raised = &raised.State{TargetRPM: 3000, WantS: 4, Cylinders: 4, Screw: -1,
			Advice: advice.Advice{Kind: advice.Turn, Part: advice.TwistGrip, Why: advice.WhyRaise}}
	}),
	"compared": at(view.StepRaised, func(s *session.Snapshot, v *view.View) {
		level(s, v)
		s.Tune.Raised = &raised.State{TargetRPM: 3000, WantS: 4, HeldS: 4, Limit: raised.DefaultLimit,
			Cylinders: 4, Screw: -1, Done: true, Pattern: raised.OneHigh, Cylinder: 2,
			Causes: []raised.Cause{raised.CauseSlide, raised.CauseDiaphragm},
			Idle:   raised.Level{RPM: 1050, Spread: 0.3, Cycles: 50, Off: offs(-0.05, 0.15, -0.15, 0.05)},
			Raised: raised.Level{RPM: 3050, Spread: 4.4, Cycles: 90, Off: offs(-1.2, 3.2, -1.2, -0.8)}}
	}),
	"keep":  at(view.StepKeep, level),
	"saved": at(view.StepKeep, savedPractice), "auto-idle": at(view.StepIdle, autoIdle),
	"auto-hot": at(view.StepIdle, autoHot), "stands": at(view.StepLevel, stands), "rig-none": with(noBoard),
}

// offs are draws less their mean, by cylinder - 1.
func offs(kPa ...pressure.KPa) (o [bank.MaxCylinders]pressure.KPa) {
	copy(o[:], kPa)
	return o
}

func TestGoldenPictures(t *testing.T) {
	t.Parallel()
	for name, v := range states {
		t.Run(name, func(t *testing.T) {
			for _, size := range [][2]int{{80, 24}, {120, 40}, {40, 12}} {
				c := NewCanvas(size[0], size[1])
				Draw(c, &v)
				golden(t, fmt.Sprintf("%s-%dx%d", name, size[0], size[1]), c.String())
			}
		})
	}
}

// The advice takes at least a third of an 80x24 screen, in large letters, and
// alone nearly all.
func TestAdviceIsLarge(t *testing.T) {
	t.Parallel()
	for name, least := range map[string]int{"turn": 8, "turn-anticlockwise": 8, "stop": 8, "reverse": 8, "wait": 8,
		"done": 8, "fault": 8, "practice": 8, "alone": 16} {
		t.Run(name, func(t *testing.T) {
			v := states[name]
			c := NewCanvas(80, 24)
			Draw(c, &v)
			first, last := 24, 0
			for y, line := range strings.Split(c.String(), "\n") {
				if strings.Contains(line, "less vac.") { // the hills are below
					break
				}
				if strings.Contains(line, "██") {
					first, last = min(first, y), y
				}
			}
			if last-first+1 < least {
				t.Errorf("large letters from row %d to %d:\n%s", first, last, c)
			}
		})
	}
}

// shows reports whether a word stands on a canvas, in letters of any size.
func shows(c *Canvas, word string) bool {
	picture := c.String()
	return strings.Contains(picture, word) || slices.ContainsFunc(markSizes, func(size markSize) bool {
		large := NewCanvas(len(word)*10*size.cols, size.height())
		large.drawLetters(letters(view.Between(word)), 0, 0, size, view.Plain)
		for _, row := range strings.Split(strings.TrimSpace(large.String()), "\n") {
			if !strings.Contains(picture, strings.TrimSpace(row)) {
				return false
			}
		}
		return true
	})
}

// Whatever page is open, what the hand is to do now stands on it.
func TestTheLargeWordIsOnEveryPage(t *testing.T) {
	t.Parallel()
	for name, words := range map[string][]string{"turn": {"2-3", "clockwise"}, "stop": {"STOP"},
		"fault": {"ENGINE", "OFF"}, "hot": {"ENGINE", "OFF"}, "slower": {"2-3", "SLOWER"}} {
		for _, key := range []string{"?", "w", "r", "o", "u", "a"} {
			v := states[name]
			v.Phone = &view.Phone{Addresses: []string{"http://192.168.7.20:7204/ABCDEFGHJK23"}}
			v = view.Update(v, view.KeyPress{Key: key})
			for _, size := range [][2]int{{80, 24}, {40, 12}, {120, 40}, {60, 20}} {
				c := NewCanvas(size[0], size[1])
				Draw(c, &v)
				for _, word := range words {
					if !shows(c, word) && !shows(c, strings.ToUpper(word)) {
						t.Errorf("%s, %s: no %s:\n%s", name, key, word, c)
					}
				}
			}
		}
	}
}

func TestNoSizePanicsAndAsciiIsAscii(t *testing.T) {
	t.Parallel()
	for name, v := range states {
		t.Run(name, func(t *testing.T) {
			for w := 0; w <= 300; w += 1 + w/effort.Of(2, 5) {
				for h := 0; h <= 100; h += 1 + h/effort.Of(2, 4) {
					c := NewCanvas(w, h)
					c.ASCII = true
					Draw(c, &v)
					for _, r := range c.String() {
						if r > 0x7E {
							t.Fatalf("%s %dx%d: %q is no ASCII", name, w, h, r)
						}
					}
				}
			}
		})
	}
}

// A figure that is not live never looks live: from 0.3 s on nothing is drawn in
// a live role, from 1 s on no figure is drawn at all.
func TestStaleFigures(t *testing.T) {
	t.Parallel()
	const ms = time.Millisecond
	for _, age := range []time.Duration{0, 150 * ms, 300 * ms, 300*ms + 1, 600 * ms, 1000 * ms, 1000*ms + 1,
		3000 * ms} {
		t.Run(age.String(), func(t *testing.T) {
			v := states["turn"]
			v.Now = noon.Add(age)
			c := NewCanvas(80, 24)
			Draw(c, &v)
			figures := strings.Contains(c.String(), "25.8")
			if (age <= time.Second) != figures {
				t.Fatalf("at %v figures shown: %v\n%s", age, figures, c)
			}
			for y := 2; y < 20; y++ { // below the head and the step
				for x := range 80 {
					cell := c.At(x, y)
					live := cell.Rune != ' ' && (cell.Role == view.Good || cell.Role == view.Strong)
					if age > 300*time.Millisecond && age <= time.Second && live {
						t.Fatalf("at %v %q looks live", age, cell.Rune)
					}
				}
			}
		})
	}
}
