package mixture

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
	"evendraw/internal/heat"
)

// A whole trim of one screw, as it was told: every advice and setting. The same spans
// give the same text. Read the diff when it is renewed with -update.
func TestTrimGolden(t *testing.T) {
	const name = "testdata/trim.golden"
	var b strings.Builder
	told := ""
	idle := NewIdleSpeed(IdleConfig{LowRPM: 1000, HighRPM: 1150})
	var hand *pilotHand
	var st TrimState
	trim := NewTrim(TrimConfig{Cylinders: 2, Screws: FuelScrews, TurnsOut: []float64{2, 2.25}, Only: []int{1}}, idle)
	on := engine.Config{Bank: bank.Default(2), Seed: 8, Running: true, PilotsOff: 0.4, Uneven: 0.5}
	r := newBench(t, on, func(s *cycle.Span) {
		is := idle.Push(s)
		st = trim.Push(s, &is, math.NaN(), &heat.State{Limit: 1e6})
		a := st.Advice
		line := fmt.Sprintf("%s %d %s %s %.3f %s", st.Step, st.Cylinder, a.Kind, a.Direction, a.Turns, a.Why)
		if line != told {
			told = line
			fmt.Fprintf(&b, "%6.1f s  %s\n", s.End(), line)
		}
	})
	hand = newPilotHand(r.engine, 8)
	r.run(300, func() bool { hand.act(r.engine, &st, trim); return st.Step == StepAllSet })
	for _, p := range st.Points[:st.NPoints] {
		fmt.Fprintf(&b, "setting %+.3f: %.0f ± %.0f rpm\n", p.Moved, p.RPM, p.UncertaintyRPM)
	}
	p := st.Pilots[0]
	fmt.Fprintf(&b, "%s, %.3f turns out from %.3f, best %+.2f ± %.2f\n",
		p.Found, p.Out, p.StartOut, p.Best, p.Uncertainty)
	if *update {
		os.MkdirAll("testdata", 0o755)
		if err := os.WriteFile(name, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil || string(want) != b.String() {
		t.Errorf("%v; now:\n%s", err, b.String())
	}
}

// Pushing a span allocates nothing, while a setting is watched as at any other time.
func TestPushAllocates(t *testing.T) {
	idle := NewIdleSpeed(IdleConfig{LowRPM: 1000, HighRPM: 1100})
	trim := NewTrim(TrimConfig{Cylinders: 4, WatchS: 1e9}, idle)
	s := cycle.Span{Cycle: true, N: 4, Period: 120.0 / 1050}
	k, budget := 0, &heat.State{Limit: 1e6}
	push := func() {
		k++
		s.Start += s.Period
		s.Period = 120 / (1050 + 4*math.Sin(float64(k)))
		st := idle.Push(&s)
		trim.Push(&s, &st, 1, budget)
	}
	for range 200 { // past the first turn
		push()
		if trim.state.Step == StepTurn {
			trim.Made()
		}
	}
	if trim.state.Step != StepWatch {
		t.Fatalf("still at %s", trim.state.Step)
	}
	for range mostRows { // the rows' room has grown
		push()
	}
	if n := testing.AllocsPerRun(500, push); n > 0 {
		t.Errorf("%v allocations a span", n)
	}
}

// An idle within its range wants nothing; one with no range is only read; a card's
// effect of the wrong sign is turned round, once two turns have led away.
func TestIdleSpeedCards(t *testing.T) {
	run := func(cfg IdleConfig, stop, seconds float64, act bool) (IdleState, *engine.Engine) {
		stage := NewIdleSpeed(cfg)
		var st IdleState
		on := engine.Config{Bank: bank.Default(cylinders()), Seed: 2, Running: true}
		b := newBench(t, on, func(s *cycle.Span) { st = stage.Push(s) })
		b.engine.TurnStop(stop)
		b.run(8, nil)
		stage.Restart()
		var f follower
		b.run(seconds, func() bool {
			if act {
				f.follow(b.engine, st.Advice)
			}
			return st.Advice.Kind == advice.Done
		})
		return st, b.engine
	}
	st, e := run(IdleConfig{LowRPM: 900, HighRPM: 1200}, 0, 20, false)
	if st.Advice.Kind != advice.Done || st.Side != Within || e.Truth().StopTurns != 0 {
		t.Errorf("within: %+v", st)
	}
	st, _ = run(IdleConfig{}, 0, 10, false)
	if st.Advice.Why != advice.WhyNoRange || math.IsNaN(st.RPM) || !math.IsNaN(st.LowRPM) || !st.Settled {
		t.Errorf("no range: %+v", st)
	}
	st, e = run(IdleConfig{LowRPM: 1300, HighRPM: 1400, EffectRPMPerTurn: -350}, 0, 200, true)
	t.Logf("wrong sign: %.0f rpm, effect %.0f, %.2f turns", e.Truth().RPM, st.EffectRPMPerTurn, e.Truth().StopTurns)
	if st.Advice.Kind != advice.Done || e.Truth().StopTurns <= 0 || st.EffectRPMPerTurn < 0 {
		t.Errorf("wrong sign: %+v, effect %v", st.Advice, st.EffectRPMPerTurn)
	}
}
