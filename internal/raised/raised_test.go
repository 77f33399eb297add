package raised

import (
	"math"
	"slices"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// bench is a practice engine whose spans go to push.
type bench struct {
	*engine.Engine
	dec     frame.Decoder
	conv    *sensor.Converter
	tracker *cycle.Tracker
	push    func(*cycle.Span)
}

func newBench(cfg engine.Config, push func(*cycle.Span)) *bench {
	return &bench{Engine: engine.New(cfg), conv: sensor.NewConverter(sensor.Setup{}), push: push,
		tracker: cycle.NewTracker(cycle.Config{Channels: cfg.Bank.Channels, Ambient: engine.DefaultAmbient})}
}

// run lets the engine's time pass until something is so, nil for never; it reports whether it became so.
func (b *bench) run(seconds float64, until func() bool) bool {
	var buf [480]byte
	for end := b.Truth().TimeS + seconds; b.Truth().TimeS < end; {
		n, _ := b.Read(buf[:])
		b.dec.Feed(buf[:n])
		for f, ok := b.dec.Next(); ok; f, ok = b.dec.Next() {
			b.conv.Announce(b.dec.Board())
			if span, ok := b.tracker.Push(b.conv.Push(f)); ok {
				b.push(span)
			}
		}
		if until != nil && until() {
			return true
		}
	}
	return false
}

// lookAt looks at a practice engine at a raised speed.
func lookAt(t *testing.T, cfg engine.Config, rpm float64) State {
	t.Helper()
	cfg.Running, cfg.NoSensorErrors = true, true
	r := New(Config{Bank: cfg.Bank, Ambient: engine.DefaultAmbient, Limit: 1.5, RPM: rpm})
	var st State
	var looking, held bool
	b := newBench(cfg, func(s *cycle.Span) {
		if looking {
			st = r.Push(s)
		}
	})
	if slices.ContainsFunc(cfg.Defects, func(d engine.Defect) bool { return d.LeakMM2 > 0 }) {
		b.run(1.5, nil)
		levelOut(b)
	}
	looking, held = true, false
	if !b.run(60, func() bool {
		if want := st.Advice.Kind == advice.Turn || st.Advice.Kind == advice.Hold; want != held {
			held = want
			b.HoldAt(st.TargetRPM)
		}
		return st.Done
	}) {
		t.Errorf("not done: %+v", st.Advice)
	}
	return st
}

// levelOut turns the fourth cylinder's screw until a leak there is hidden at idle.
func levelOut(b *bench) {
	for range 40 {
		truth := b.Truth()
		off := float64(truth.Cylinders[3].Draw - truth.Cylinders[2].Draw)
		if off > -0.3 {
			return
		}
		b.Turn(1, -off/float64(truth.ScrewEffect[1])/2)
		b.run(1.5, nil)
	}
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
		{"a leak levelled out", 6, 0.3, []engine.Defect{3: {LeakMM2: 1.8}}, OneHigh, 4, CauseSlide},
		{"not level", 5, 5, nil, IdleOnly, 0, CauseLeak},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			st := lookAt(t, engine.Config{Bank: four, Seed: c.seed, Uneven: c.uneven, Defects: c.defects}, 3000)
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

// What each change between the speeds looks like.
func TestShapes(t *testing.T) {
	c := Config{Bank: bank.Default(4), Limit: 2}
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
	r := New(Config{Bank: bank.Default(2), Ambient: 101.3, Limit: 2})
	now := 0.0
	push := func(rpm, seconds float64) (st State) {
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
	if st := push(3000, 3); st.Done || st.Advice.Kind != advice.Hold || math.Abs(st.HeldS-(3-reachS)) > 0.1 {
		t.Errorf("%v s held: %+v", st.HeldS, st.Advice)
	}
	if st := push(2000, 1); st.HeldS != 0 || st.Advice.Why != advice.WhyRaise {
		t.Errorf("fallen off: %v s held, %+v", st.HeldS, st.Advice)
	}
	if st := push(4500, 1); st.Advice.Why != advice.WhyLower {
		t.Errorf("too fast: %+v", st.Advice)
	}
	for rpm := 2650.0; rpm < 3000; rpm += 40 { // the hand's way to the speed does not count
		if st := push(rpm, 0.05); st.Advice.Kind != advice.Hold || st.HeldS != 0 {
			t.Errorf("on the way, at %v rpm: %v s held, %+v", rpm, st.HeldS, st.Advice)
		}
	}
	st := push(3000, 5)
	if !st.Done || math.Abs(st.Raised.RPM-3000) > 1 || math.Abs(float64(st.Raised.Spread)-0.5) > 1e-9 ||
		st.Pattern != EvenBoth {
		t.Errorf("%+v", st)
	}
}

// Pushing a span allocates nothing.
func TestPushAllocates(t *testing.T) {
	l := New(Config{Bank: bank.Default(4), Ambient: 101.3, Limit: 2})
	s := cycle.Span{Cycle: true, N: 4, Period: 120.0 / 1050}
	if n := testing.AllocsPerRun(500, func() { l.Push(&s) }); n > 0 {
		t.Errorf("%v allocations a span", n)
	}
}
