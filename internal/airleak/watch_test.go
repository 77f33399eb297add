package airleak_test

import (
	"testing"

	"evendraw/internal/airleak"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
)

// listen runs a Watch on an engine for some seconds, act being called after each sample. It returns when which
// cylinder was first said to lack air, and how many cycles had each phase.
func listen(t *testing.T, c engine.Config, seconds float64, act func(e *engine.Engine, time float64)) (at []float64,
	who []int, phases map[airleak.Phase]int) {
	t.Helper()
	e := engine.New(c)
	reader := frame.NewReader(e)
	converter := sensor.NewConverter(sensor.Setup{Ambient: engine.DefaultAmbient})
	tracker := cycle.NewTracker(cycle.Config{Channels: c.Bank.Channels, Ambient: engine.DefaultAmbient})
	var w airleak.Watch
	phases = map[airleak.Phase]int{}
	last := airleak.Phase("")
	time := 0.0
	for n := 0; time < seconds; n++ {
		f, err := reader.Read()
		if err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			converter.Announce(reader.Board())
		}
		s := converter.Push(&f)
		time = s.Time
		act(e, time)
		span, ok := tracker.Push(s)
		if !ok {
			continue
		}
		st := w.Push(span)
		phases[st.Phase]++
		if st.Phase == airleak.Less && last != airleak.Less {
			at, who = append(at, span.End()), append(who, st.Cylinder)
		}
		last = st.Phase
	}
	return at, who, phases
}

// leakOf is a leak, m², as a share of the area of an idle's butterfly: some 5 mm².
const leakOf = 5.0

// A leak of 3 % of a cylinder's air is heard within 2 s of being wetted, at a calm and at a lumpy idle; it is heard to
// open again, and nothing else is heard.
func TestWatchFindsALeak(t *testing.T) {
	t.Parallel()
	const wet, wetS = 25.0, 4.0
	found, trials, slowest := 0, 0, 0.0
	for seed := uint64(1); seed <= effort.Of[uint64](2, 12); seed++ {
		cylinder := int(seed)%4 + 1
		c := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Lumpy: seed%2 == 0,
			Defects: make([]engine.Defect, 4)}
		c.Defects[cylinder-1].LeakMM2 = 0.03 * leakOf
		done := false
		at, who, phases := listen(t, c, 35, func(e *engine.Engine, time float64) {
			if time > wet && !done {
				e.Wet(cylinder, 1, wetS)
				done = true
			}
		})
		t.Logf("seed %d, cylinder %d: %v %v %v", seed, cylinder, at, who, phases)
		trials++
		if len(at) == 1 && who[0] == cylinder && at[0] > wet {
			found++
			slowest = max(slowest, at[0]-wet)
		}
	}
	t.Logf("%d of %d, after %.1f s at most", found, trials, slowest)
	if found < trials || slowest > 2 {
		t.Errorf("%d of %d found, after %.1f s", found, trials, slowest)
	}
}

// A lumpy idle of ten minutes has no leak.
func TestWatchHearsNothing(t *testing.T) {
	t.Parallel()
	for seed := uint64(1); seed <= effort.Of[uint64](1, 3); seed++ {
		c := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Lumpy: true}
		if seed == 3 {
			c.Bank = bank.Default(2)
		}
		at, who, phases := listen(t, c, effort.Of(60.0, 620), func(*engine.Engine, float64) {})
		t.Logf("seed %d: %v %v %v", seed, at, who, phases)
		if len(at) > 0 || phases[airleak.Watching] < phases[airleak.Moved] {
			t.Errorf("seed %d: %v, cylinders %v; %v", seed, at, who, phases)
		}
	}
}

// A large leak that is wetted as soon as the watch has learned is heard too.
func TestWatchFindsALargeLeakAtOnce(t *testing.T) {
	t.Parallel()
	const learned, wetS = 4.45, 4.0 // s; it watches from 4.4 s on
	for seed := uint64(1); seed <= effort.Of[uint64](1, 6); seed++ {
		for _, after := range []float64{0, 0.5, 2} {
			c := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, Defects: []engine.Defect{{LeakMM2: 1.8}}}
			done := false
			at, who, _ := listen(t, c, learned+after+3, func(e *engine.Engine, time float64) {
				if time > learned+after && !done {
					e.Wet(1, 1, wetS)
					done = true
				}
			})
			if len(at) != 1 || who[0] != 1 || at[0] > learned+after+2 {
				t.Errorf("seed %d, wetted at %v s: heard %v at %v", seed, learned+after, who, at)
			}
		}
	}
}
