package mixture

import (
	"math"
	"slices"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// raisedOn looks at a practice engine at a raised speed.
func raisedOn(t *testing.T, cfg engine.Config, rpm float64) RaisedState {
	t.Helper()
	cfg.Running, cfg.NoSensorErrors = true, true
	r := NewRaised(RaisedConfig{Bank: cfg.Bank, Ambient: engine.DefaultAmbient, Limit: 1.5, RPM: rpm})
	var st RaisedState
	b := newBench(t, cfg, func(s *cycle.Span) { st = r.Push(s) })
	held := false
	if !b.run(60, func() bool {
		if want := st.Advice.Kind == advice.Turn || st.Advice.Kind == advice.Hold; want != held {
			held = want
			b.engine.HoldAt(st.TargetRPM)
		}
		return st.Done
	}) {
		t.Errorf("not done: %+v", st.Advice)
	}
	return st
}

// Slides that hang on the practice engine are found by their cylinders, and a sound
// bank is even.
func TestRaisedOnThePracticeEngine(t *testing.T) {
	four := bank.Default(4)
	for _, c := range []struct {
		name     string
		seed     uint64
		uneven   pressure.KPa
		defects  []engine.Defect
		pattern  Pattern
		cylinder int
		first    Cause
	}{
		{"sound", 2, 0.4, nil, EvenBoth, 0, ""},
		{"one slide hangs", 3, 0.4, []engine.Defect{2: {SlideHangs: 0.5}}, OneHigh, 3, CauseSlide},
		{"a side opens less", 4, 0.4, []engine.Defect{{SlideHangs: 0.5}, {SlideHangs: 0.5}}, SideOff, 0, CauseLinkage},
		{"not level", 5, 5, nil, IdleOnly, 0, CauseLeak},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			st := raisedOn(t, engine.Config{Bank: four, Seed: c.seed, Uneven: c.uneven, Defects: c.defects}, 3000)
			t.Logf("%s, cylinder %d; spread %.2f at %.0f rpm, %.2f at idle",
				st.Pattern, st.Cylinder, st.Raised.Spread, st.Raised.RPM, st.Idle.Spread)
			if st.Pattern != c.pattern || st.Cylinder != c.cylinder || c.first != "" && st.Causes[0] != c.first {
				t.Errorf("%s, cylinder %d, causes %v", st.Pattern, st.Cylinder, st.Causes)
			}
			if st.Raised.RPM < 2600 || st.Raised.RPM > 3400 {
				t.Errorf("read at %.0f rpm", st.Raised.RPM)
			}
		})
	}
}

// A leak that was levelled out at idle shows at speed as its cylinder's high vacuum: that it may be a leak is said.
func TestRaisedOverALevelledLeak(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	four.Screws = []bank.Screw{{Name: "2", Moves: []int{2}}, {Name: "3", Moves: []int{3}}, {Name: "4", Moves: []int{4}}}
	four.Root = 1
	for _, row := range []struct {
		leak     float64 // mm²
		pattern  Pattern
		cylinder int
	}{{4, OneHigh, 3}, {0, EvenBoth, 0}}[:effort.Of(1, 2)] {
		cfg := engine.Config{Bank: four, Seed: 6, Level: true, Running: true, NoSensorErrors: true,
			Defects: []engine.Defect{2: {LeakMM2: row.leak}}}
		r := NewRaised(RaisedConfig{Bank: four, Ambient: engine.DefaultAmbient, Limit: 0.8})
		var st RaisedState
		levelled, held := false, false
		b := newBench(t, cfg, func(s *cycle.Span) {
			if levelled {
				st = r.Push(s)
			}
		})
		for range 4 { // level it by the true draws
			b.run(3, nil)
			truth := b.engine.Truth()
			for i := 1; i < 4; i++ {
				off := float64(truth.Cylinders[i].Draw - truth.Cylinders[0].Draw)
				b.engine.Turn(i-1, -off/float64(truth.ScrewEffect[i-1]))
			}
		}
		b.run(4, nil)
		levelled = true
		b.run(60, func() bool {
			if want := st.Advice.Kind == advice.Turn || st.Advice.Kind == advice.Hold; want != held {
				held = want
				b.engine.HoldAt(st.TargetRPM)
			}
			return st.Done
		})
		t.Logf("leak %.1f mm²: %s, cylinder %d, idle %.2f, raised %.2f: %.2f", row.leak, st.Pattern, st.Cylinder,
			st.Idle.Spread, st.Raised.Spread, st.Raised.Off)
		if st.Pattern != row.pattern || st.Cylinder != row.cylinder ||
			row.leak > 0 && !slices.Contains(st.Causes, CauseLevelled) {
			t.Errorf("leak %.1f mm²: %s, cylinder %d, %v", row.leak, st.Pattern, st.Cylinder, st.Causes)
		}
	}
}

// What each change between the speeds looks like.
func TestShapes(t *testing.T) {
	c := RaisedConfig{Bank: bank.Default(4), Limit: 2}
	for _, row := range []struct {
		change   []float64
		pattern  Pattern
		cylinder int
	}{
		{[]float64{0, 0.1, 3, -0.1}, OneHigh, 3},
		{[]float64{-3, 0.1, 0, -0.1}, OneLow, 1},
		{[]float64{2, 2.1, -2, -2.2}, SideOff, 0},
		{[]float64{3, -3, 1, -1}, AllOver, 0},
	} {
		p, cylinder, screw := c.patternOf(row.change)
		if p != row.pattern || cylinder != row.cylinder || (p == SideOff) != (screw == 2) {
			t.Errorf("%v: %s, cylinder %d, screw %d", row.change, p, cylinder, screw)
		}
	}
	for p, list := range causes {
		if len(list) == 0 {
			t.Errorf("%s points to nothing", p)
		}
	}
}

// Leaving the band begins the hold anew; no idle, nothing to compare.
func TestRaisedHold(t *testing.T) {
	r := NewRaised(RaisedConfig{Bank: bank.Default(2), Ambient: 101.3, Limit: 2})
	now := 0.0
	push := func(rpm, seconds float64) (st RaisedState) {
		for end := now + seconds; now < end; {
			s := cycle.Span{Start: now, Period: 120 / rpm, Cycle: true, N: 2}
			s.Mean[0], s.Mean[1] = 76, 76.5
			s.State[0], s.State[1] = cycle.OK, cycle.OK
			now += s.Period
			st = r.Push(&s)
		}
		return st
	}
	if st := push(3000, 6); st.Done || st.Advice.Why != advice.WhyIdleFirst {
		t.Errorf("without an idle: %+v", st.Advice)
	}
	push(1050, 6)
	if st := push(3000, 3); st.Done || st.Advice.Kind != advice.Hold || math.Abs(st.HeldS-3) > 0.1 {
		t.Errorf("%v s held: %+v", st.HeldS, st.Advice)
	}
	if st := push(2000, 1); st.HeldS != 0 || st.Advice.Why != advice.WhyRaise {
		t.Errorf("fallen off: %v s held, %+v", st.HeldS, st.Advice)
	}
	if st := push(4500, 1); st.Advice.Why != advice.WhyLower {
		t.Errorf("too fast: %+v", st.Advice)
	}
	st := push(3000, 5)
	if !st.Done || math.Abs(float64(st.Raised.Spread)-0.5) > 1e-9 || st.Pattern != EvenBoth {
		t.Errorf("%+v", st)
	}
}
