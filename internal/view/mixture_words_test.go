package view

import (
	"math"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
)

func trimState() mixture.TrimState {
	nan := math.NaN()
	s := mixture.TrimState{Step: mixture.StepTurn, Cylinder: 2, RPM: 1040, LeftS: 4.5, Cylinders: 2, Apart: nan,
		RicherKnown: true, Richer: true}
	s.Advice = advice.Advice{Kind: advice.Turn, Part: advice.PilotScrew, Cylinder: 2, Direction: advice.Anticlockwise,
		Turns: 0.625, Why: advice.WhySeek}
	for i := range 2 {
		s.Pilots[i] = mixture.Pilot{Cylinder: i + 1, Found: mixture.AtPeak, StartOut: 2, Out: 2.125, Moved: 0.125,
			Best: 0.1, Uncertainty: 0.07, Lambda: nan}
	}
	return s
}

func TestTrimWords(t *testing.T) {
	t.Parallel()
	s := trimState()
	w := TrimWords(&s, nil)
	if w.Big != "PILOT 2" || w.Amount != "5/8" || w.Way != "OUT" ||
		w.Arrow != -1 || !strings.Contains(w.Say[0], "richer") ||
		!strings.Contains(w.Say[0], "(out)") {
		t.Errorf("%+v", w)
	}
	if lines := pilotwords.Lines(&s); len(lines) != 2 || !strings.Contains(lines[0], "2 1/8 turns out, sure to ±0.07") {
		t.Errorf("%q", lines)
	}
	s.Pilots[0].Moved = -0.5 // the turn to the best is still to be made
	if line := pilotwords.Lines(&s)[0]; !strings.Contains(line, "best at 2 1/8 turns out (it stands at 1 1/2), sure") {
		t.Error(line)
	}
	if lines := pilotwords.Warnings(&s); len(lines) != 0 {
		t.Errorf("warned of nothing: %q", lines)
	}
	s.Pilots[0].Found, s.Pilots[1].Found, s.Apart = mixture.AtEnd, mixture.Silent, 1.25
	warned := strings.Join(pilotwords.Warnings(&s), "\n")
	for _, want := range []string{"blocked pilot jet", "air leak", "float height", "Pilot screw 2 changes nothing",
		"1.25 turns apart"} {
		if !strings.Contains(warned, want) {
			t.Errorf("no word of %q in:\n%s", want, warned)
		}
	}
	s.Pilots[0] = mixture.Pilot{Cylinder: 1, Found: mixture.AtPeak, StartOut: math.NaN(), Moved: -0.25,
		Best: -0.25, Uncertainty: 0.1, Lambda: 0.97}
	if line := pilotwords.Lines(&s)[0]; !strings.Contains(line, "1/4 turns further in than it was") ||
		!strings.Contains(line, "Lambda 0.970") {
		t.Error(line)
	}
	// An aim that was not met, and a setting that did not bring what was foretold, are told with both figures.
	s.Target, s.Pilots[0].Found, s.Pilots[0].Lambda = 1.2, mixture.OffAim, 0.91
	if line := pilotwords.Lines(&s)[0]; !strings.Contains(line, "aim was not met") ||
		!strings.HasSuffix(line, "Lambda 0.910. Your aim is 1.20.") {
		t.Error(line)
	}
	s.Pilots[0].Found, s.Pilots[0].Lambda = mixture.Unsure, math.NaN()
	s.Pilots[0].ForetoldRPM, s.Pilots[0].SetRPM, s.Pilots[0].Uncertainty = 1050, 960, math.NaN()
	if line := pilotwords.Lines(&s)[0]; !strings.HasSuffix(line, "to idle at 1050 rpm with it, and idled at 960.") ||
		strings.Contains(line, "NaN") {
		t.Error(line)
	}
	if lines := pilotwords.Warnings(&s); len(lines) == 0 || !strings.Contains(lines[0], "or at another screw") {
		t.Errorf("%q", lines)
	}
}

// While a turn is told that nobody has confirmed, c asks how far the one was that was confirmed last, and says so; a
// turn that is asked about, or that may end at a seat, is asked about itself. No example is the amount that was told.
func TestCAsksAboutTheTurnThatWasSaidToBeMade(t *testing.T) {
	t.Parallel()
	told, said := mixture.ToldTurn{Number: 3, Of: 1, Out: 0.875}, mixture.ToldTurn{Number: 2, Of: 1, Out: -1.75}
	for _, c := range []struct {
		step  mixture.Step
		why   advice.Why
		out   float64 // told; 0 is 7/8
		start float64
		want  string
		turn  int
	}{
		{mixture.StepTurn, advice.WhySeek, 0, 2,
			"Screw 1, the turn in by 1 3/4 that you said was made: how far was it (as 1/2;", 2},
		{mixture.StepTurn, advice.WhyTurned, 0, 2, "Screw 1, the turn out by 7/8 that is told now: how far", 3},
		{mixture.StepTurn, advice.WhySeek, -0.5, math.NaN(), "in by 1/2 that is told now: how far was it (as 1/4;", 3},
		{mixture.StepWatch, advice.WhyMeasuring, 0, 2, "the turn out by 7/8: how far", 3},
	} {
		s := trimState()
		s.Step, s.Cylinder, s.Advice.Why, s.Last, s.Said = c.step, 1, c.why, told, said
		s.Pilots[0].StartOut = c.start
		if c.out != 0 {
			s.Last.Out = c.out
		}
		if c.step == mixture.StepWatch {
			s.Said = s.Last
		}
		if prompt, turn := pilotwords.AskTurn(&s); !strings.Contains(prompt, c.want) || turn != c.turn {
			t.Errorf("%s, %s: %q, %d", c.step, c.why, prompt, turn)
		}
	}
}

// No turn leads further than 3/4 from where the screw stood without its reason, be it asked for again.
func TestFarTurnsHaveAReason(t *testing.T) {
	t.Parallel()
	for _, step := range []mixture.Step{mixture.StepTurn, mixture.StepSet} {
		for _, why := range []advice.Why{advice.WhyFurther, advice.WhySet, advice.WhyTarget, advice.WhyTurned} {
			for _, goal := range []float64{-0.875, -0.75, 0.75, 0.8125} {
				s := trimState()
				s.Step, s.Cylinder, s.Advice.Why, s.Goal = step, 1, why, goal
				s.Advice.Direction = advice.WayOf(-goal)
				w := TrimWords(&s, nil)
				first := strings.Join(w.Say[:min(len(w.Say), 3)], " ") // a small terminal has no room for more
				said := strings.Contains(first, "More than 3/4 of a turn from where it stood: ")
				if far := math.Abs(goal) > 0.75; said != far || far && why != advice.WhyTurned && !w.Read {
					t.Errorf("%s, %s, %+.3f: %+v", step, why, goal, w)
				}
			}
		}
	}
}

// Every kind and reason has words: none is blank.
func TestMixtureWordsAreWhole(t *testing.T) {
	t.Parallel()
	screws := []string{"1-2", "3-4", "2-3"}
	idle := mixture.IdleState{RPM: 900, LowRPM: 1000, HighRPM: 1100}
	for _, k := range []advice.Kind{advice.Wait, advice.Turn, advice.Stop, advice.Reverse, advice.Hold, advice.Done} {
		for _, why := range []advice.Why{advice.WhyNoCycle, advice.WhyNotSteady, advice.WhyNoRange, advice.WhyTry,
			advice.WhySet, advice.WhyBack, advice.WhyBase} {
			a := advice.Advice{Kind: k, Part: advice.ThrottleStop, Direction: advice.Clockwise, Turns: 0.25, Why: why}
			idle.Advice = a
			s := trimState()
			s.Advice = a
			s.Advice.Part, s.Advice.Cylinder = advice.PilotScrew, 2
			r := raised.State{Advice: a, TargetRPM: 3000, WantS: 4}
			for _, w := range []Words{idleWords(&idle), TrimWords(&s, &idle),
				RaisedWords(&r, screws, pressure.Kilopascal)} {
				if w.Big == "" || len(w.Say) == 0 || w.Say[0] == "" {
					t.Errorf("%s, %s: %+v", k, why, w)
				}
			}
		}
	}
	again := advice.Advice{Kind: advice.Turn, Part: advice.ThrottleStop, Why: advice.WhyTry, Turns: 0.25, Again: true}
	if w := idleWords(&mixture.IdleState{Advice: again}); !strings.Contains(w.Say[1], "that much more") {
		t.Errorf("a larger amount after one that showed nothing: %q", w.Say)
	}
	for _, p := range []raised.Pattern{raised.EvenBoth, raised.OneHigh, raised.OneLow, raised.SideOff,
		raised.IdleOnly, raised.AllOver, raised.SameBoth} {
		s := raised.State{Done: true, Pattern: p, Cylinder: 3, Screw: 2,
			Causes: []raised.Cause{raised.CauseSlide}}
		if w := RaisedWords(&s, screws, pressure.Kilopascal); len(w.Say[0]) < 40 {
			t.Errorf("%s: %+v", p, w)
		}
	}
}

// A look that is even at the raised speed says so of the idle only where that is within the aim.
func TestEvenIsNotSaidOfAnIdleAboveTheAim(t *testing.T) {
	t.Parallel()
	for idle, both := range map[pressure.KPa]bool{0.5: true, 0.54: true, 0.5501: false, 0.6: false} {
		s := raised.State{Done: true, Pattern: raised.EvenBoth, Screw: -1, Limit: 0.5, IdleLimit: 1,
			Idle: raised.Level{Spread: idle}, Raised: raised.Level{Spread: 0.1, RPM: 3082}}
		text := strings.Join(RaisedWords(&s, nil, pressure.Kilopascal).Say, " ")
		if strings.Contains(text, "Even at both") != both || strings.Contains(text, "over the aim of 0.5 kPa") == both {
			t.Errorf("%.1f at idle: %s", idle, text)
		}
	}
}

// An idle at the end of its range is not told as outside it, and one that is held open before the look at the raised
// speed has begun is told to be let go.
func TestIdleWordsFitTheirFigures(t *testing.T) {
	t.Parallel()
	for side, want := range map[mixture.RangeSide]string{mixture.Below: "wander out: low, 1095 rpm of 1000 to 1100",
		mixture.Above: "wander out: high, 1095 rpm of 1000 to 1100"} {
		s := mixture.IdleState{RPM: 1095, LowRPM: 1000, HighRPM: 1100, Side: side,
			Advice: advice.Advice{Kind: advice.Turn, Part: advice.ThrottleStop, Why: advice.WhyTry, Turns: 0.25}}
		if say := idleWords(&s).Say[0]; !strings.Contains(say, want) {
			t.Errorf("%q, want %q", say, want)
		}
	}
	low := advice.Advice{Kind: advice.Turn, Part: advice.ThrottleStop, Why: advice.WhyLow, Turns: 0.25}
	for rpm, want := range map[float64]string{1005: "1005 rpm of 1000 to 1100",
		990: "990 rpm; it should be 1000 to 1100"} {
		s := mixture.IdleState{RPM: rpm, LowRPM: 1000, HighRPM: 1100, Side: mixture.Below, Advice: low}
		if say := idleWords(&s).Say[0]; !strings.Contains(say, want) {
			t.Errorf("%q, want %q", say, want)
		}
	}
	// Where nobody has said what the idle should be, no range is told.
	made := mixture.IdleState{RPM: 936, LowRPM: 762, HighRPM: 922, AboutRPM: 842, Side: mixture.Above, Advice: low}
	say := idleWords(&made).Say[0]
	if !strings.HasPrefix(say, "Idle high: 936 rpm; it was about 842 when the trim began.") {
		t.Errorf("%q", say)
	}
	made.RPM, made.Advice.Kind = 850, advice.Done
	if say = idleWords(&made).Say[0]; say != "The idle is 850 rpm, about the 842 that it was when the trim began." {
		t.Errorf("%q", say)
	}
	first := advice.New(advice.Wait, advice.NoPart, advice.WhyIdleFirst)
	for rpm, want := range map[float64]string{1050: "IDLE", 2900: "LET GO", math.NaN(): "IDLE"} {
		s := raised.State{RPM: rpm, TargetRPM: 3000, Advice: first}
		if w := RaisedWords(&s, nil, pressure.Kilopascal); w.Big != want {
			t.Errorf("%.0f rpm: %s", rpm, w.Big)
		}
	}
}
