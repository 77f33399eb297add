package airleak_test

import (
	"math/rand/v2"
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

// A large leak that is wetted as soon as the watch has learned is heard too: a sudden fall is no scatter.
func TestWatchFindsALargeLeakAtOnce(t *testing.T) {
	t.Parallel()
	var w airleak.Watch
	random := rand.New(rand.NewPCG(1, 2))
	st, n := airleak.State{}, 0
	push := func(first float64) {
		s := cycle.Span{Start: 0.12 * float64(n), Period: 0.12, Cycle: true, N: 4}
		for c := range s.N {
			s.Refill[c] = 20 + 0.1*random.NormFloat64()
		}
		s.Refill[0] *= first
		st = w.Push(&s)
		n++
	}
	for st.Phase != airleak.Watching && n < 100 {
		push(1)
	}
	learned := n
	for st.Phase == airleak.Watching && n < 100 {
		push(0.73)
	}
	if st.Phase != airleak.Less || st.Cylinder != 1 || n > learned+6 {
		t.Errorf("%d cycles after it was wetted: %+v", n-learned, st)
	}
}

// What was heard is forgotten once the engine has stood, as what leaked may be mended; a stumble forgets nothing.
func TestAMendedLeakIsNoMoreTold(t *testing.T) {
	t.Parallel()
	for stood, forgotten := range map[float64]bool{2: false, 30: true} {
		var w airleak.Watch
		var st airleak.State
		now := 0.0
		run := func(seconds, air float64) {
			for end := now + seconds; now < end; now += 0.12 {
				s := cycle.Span{Start: now, Period: 0.12, Cycle: true, N: 2}
				s.Refill[0], s.Refill[1] = 1+0.0005*float64(int(now*100)%3), air
				s.State[0], s.State[1] = cycle.OK, cycle.OK
				st = w.Push(&s)
			}
		}
		for range 2 { // wetted twice
			run(8, 1)
			run(4, 0.8)
		}
		run(3, 1)
		if st.Last != 2 || !st.Again {
			t.Fatalf("not heard: %+v", st)
		}
		for end := now + stood; now < end; now += 0.25 {
			st = w.Push(&cycle.Span{Start: now, Period: 0.25, N: 2})
		}
		if st.Last != 2 {
			t.Errorf("forgotten while the engine stands: %+v", st)
		}
		if run(6, 1); (st.Last == 0) != forgotten || st.Again == forgotten {
			t.Errorf("stood %v s: %+v", stood, st)
		}
	}
}
