package tell

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/session"
)

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

// Unknown figures are null, never 0.
func TestJSONOfUnknowns(t *testing.T) {
	t.Parallel()
	r := reading(advice.Wait, advice.WhyNoCycle)
	r.RPM = math.NaN()
	r.Advice.ScrewName, r.Advice.Direction = "", advice.UnknownWay
	text := ReadingJSON(r, session.Link{}, &session.Config{}, true)
	var got map[string]any
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	told := got["advice"].(map[string]any)
	cylinder := got["cylinders"].([]any)[0].(map[string]any)
	for name, v := range map[string]any{"rpm": got["rpm"], "screw": told["screw"], "direction": told["direction"],
		"turns":       told["turns"],
		"uncertainty": cylinder["uncertainty_kpa"], "opening": cylinder["opening_ratio"]} {
		if v != nil {
			t.Errorf("%s is %v, want null", name, v)
		}
	}
	if got["cycle"].(map[string]any)["period_s"] != 0.12 || got["reference"] != 1.0 {
		t.Errorf("%s", text)
	}
}

// A reading's line has words of its own for the throttle stop.
func TestJSONOfTheThrottleStop(t *testing.T) {
	t.Parallel()
	for want, a := range map[string]advice.Advice{
		`"set-idle","screw":null,"direction":"clockwise","turns":0.25,"why":"idle-speed"`: {Kind: advice.Turn,
			Why:       advice.WhyTry,
			Direction: advice.Clockwise, Turns: 0.25},
		`"stop","screw":null,"direction":"clockwise","turns":null,"why":"reached"`: {Kind: advice.Stop,
			Why:       advice.WhyMeasuring,
			Direction: advice.Clockwise, Turns: math.NaN()},
		`"wait","screw":null,"direction":null,"turns":null,"why":"few-cycles"`: {Kind: advice.Wait,
			Why: advice.WhyMeasuring, Turns: math.NaN()},
	} {
		r := reading(advice.Wait, "")
		a.Part = advice.ThrottleStop
		r.Advice = a
		if line := string(ReadingJSON(r, session.Link{}, &session.Config{}, false)); !strings.Contains(line,
			`"advice":{"kind":`+want+"}") {
			t.Errorf("%s is not in %s", want, line)
		}
	}
}

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

func TestMixtureJSON(t *testing.T) {
	t.Parallel()
	s := trimState()
	tune := session.Tune{Trim: &s, Idle: mixture.IdleState{EffectRPMPerTurn: math.NaN()}}
	var got map[string]any
	if err := json.Unmarshal(TrimJSON(&tune, &heat.State{Seconds: 250}, 12.5), &got); err != nil {
		t.Fatal(err)
	}
	pilots := got["pilots"].([]any)
	if got["step"] != "turn" || got["lambda"] != nil || got["cylinder"] != 2.0 || len(pilots) != 2 ||
		pilots[0].(map[string]any)["turns_out"] != 2.125 ||
		got["advice"].(map[string]any)["direction"] != "anticlockwise" ||
		got["advice"].(map[string]any)["question"] != false {
		t.Errorf("%v", got)
	}
	s.Advice.Why = advice.WhyTurned
	got = nil
	if err := json.Unmarshal(TrimJSON(&tune, &heat.State{Seconds: 250}, 12.5), &got); err != nil ||
		got["advice"].(map[string]any)["question"] != true {
		t.Errorf("%v, %v", got, err)
	}
	r := raised.State{RPM: math.NaN(), Screw: -1, Cylinders: 2}
	var raised map[string]any
	if err := json.Unmarshal(RaisedJSON(&r, &heat.State{}, 1, nil), &raised); err != nil || raised["rpm"] != nil ||
		raised["idle"] != nil || raised["screw"] != nil {
		t.Errorf("%v, %v", raised, err)
	}
}

// A level bank is told with what speaks against it; without that the key is not there.
func TestALevelInDoubtSaysSo(t *testing.T) {
	t.Parallel()
	r := reading(advice.Done, advice.WhyLevel)
	says := func() string { return string(ReadingJSON(r, session.Link{}, &session.Config{}, false)) }
	if text := says(); strings.Contains(text, "doubts") || !json.Valid([]byte(text)) {
		t.Error(text)
	}
	r.Cylinders[1].Doubt, r.Halts = advice.WhyDisagree, balance.Halts{Far: 1, IdleFell: true, LowDraw: true,
		Play: 0.45}
	want := `,"doubts":[{"cylinder":2,"why":"disagree"},{"why":"far-turned"},{"why":"idle-fell"},` +
		`{"why":"low-draw"},{"why":"play"}],"link":`
	if text := says(); !json.Valid([]byte(text)) || !strings.Contains(text, want) {
		t.Error(text)
	}
}

// Wherever a spread is told, it is said which cylinders it leaves out.
func TestASpreadTellsWhatItLeavesOut(t *testing.T) {
	t.Parallel()
	r := reading(advice.Wait, advice.WhyMeasuring)
	if text := string(ReadingJSON(r, session.Link{}, &session.Config{}, false)); !strings.Contains(text,
		`"spread_without":[],`) {
		t.Error(text)
	}
	r.Cylinders[1].State = cycle.RailLow
	if text := string(ReadingJSON(r, session.Link{}, &session.Config{}, false)); !strings.Contains(text,
		`"spread_without":[2],`) {
		t.Error(text)
	}
	rec := garage.SyncRecord{After: garage.ReadingRecord(r), Before: garage.ReadingRecord(r)}
	kept, want := garage.StoredSync{Path: "x", Kept: rec}, ", without cylinder 2"
	var compared, listed strings.Builder
	Compare(&compared, rec.Before, rec.After, "before", "after", pressure.Kilopascal, false)
	History(&listed, "twin", []garage.StoredSync{kept}, nil, 0, 0, pressure.Kilopascal, true)
	for _, text := range []string{historyLine(&kept, pressure.Kilopascal), compared.String(),
		strings.Join(recordLines(&kept, pressure.Kilopascal), "\n")} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not say %q", text, want)
		}
	}
	if !strings.Contains(listed.String(), `"after_without":[2]`) {
		t.Error(listed.String())
	}
}
