package cycle

import (
	"math"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/sensor"
)

// track runs a synth through a Tracker.
func track(s *synth, seconds float64) ([]Span, *truth) {
	cfg := Config{Ambient: 101.3}
	for c := range s.angles {
		cfg.Channels = append(cfg.Channels, c)
	}
	tracker := NewTracker(cfg)
	var spans []Span
	tr := s.run(seconds, func(x *sensor.Sample) {
		if span, ok := tracker.Push(x); ok {
			spans = append(spans, *span)
		}
	})
	return spans, tr
}

func TestMeansSpeedAndStates(t *testing.T) {
	for _, c := range []struct {
		name     string
		n        int
		change   func(s *synth)
		rmsKPa   float64 // of the difference of two cylinders, single cycles
		speedPct float64
	}{
		{"clean four", 4, func(s *synth) {}, 0.015, 0.05},
		{"clean twin", 2, func(s *synth) {}, 0.015, 0.05},
		{"270-450 twin", 2, func(s *synth) { s.angles = []float64{0, 270} }, 0.015, 0.05},
		{"triple", 3, func(s *synth) { s.angles = []float64{0, 240, 480} }, 0.015, 0.05},
		{"uneven four", 4, func(s *synth) { s.depth = []float64{50, 44, 52, 47} }, 0.015, 0.05},
		{"wandering", 4, func(s *synth) { s.rpm = func(t float64) float64 { return 1050 + 80*math.Sin(t) } }, 0.015,
			0.05},
		{"lumpy", 4, func(s *synth) {
			s.scatter = 0.15
			s.rpm = func(t float64) float64 { return 1050 + 80*math.Sin(2*t) }
		}, 0.025, 0.1},
		{"slow board", 4, func(s *synth) { s.rate = 250; s.rpm = func(float64) float64 { return 750 } }, 0.03, 0.05},
		{"3000 rpm", 4, func(s *synth) { s.rpm = func(float64) float64 { return 3000 } }, 0.03, 0.05},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSynth(c.n)
			c.change(s)
			seconds := effort.Of(8., 20.)
			spans, tr := track(s, seconds)
			var dd, ss float64
			cycles := 0
			for _, span := range spans {
				if !span.Cycle {
					continue
				}
				cycles++
				m0, period := tr.mean(0, span.Start)
				m1, _ := tr.mean(1, span.Start)
				d := float64(span.Mean[0]-span.Mean[1]) - (m0 - m1)
				dd += d * d
				ss += math.Pow(span.Period/period-1, 2)
				for i := range c.n {
					if span.State[i] != OK {
						t.Fatalf("cylinder %d is %s at %.2f s", i+1, span.State[i], span.Start)
					}
				}
			}
			want := int((seconds - 1.5) * s.rpm(0) / 120)
			if cycles < want-2-want/20 {
				t.Fatalf("%d cycles, want about %d", cycles, want)
			}
			rms, speed := math.Sqrt(dd/float64(cycles)), 100*math.Sqrt(ss/float64(cycles))
			t.Logf("difference %.4f kPa rms, speed %.3f %% rms, %d cycles", rms, speed, cycles)
			if rms > c.rmsKPa || speed > c.speedPct {
				t.Errorf("want %.4f kPa and %.3f %%", c.rmsKPa, c.speedPct)
			}
		})
	}
}

func TestStandingEngine(t *testing.T) {
	s := newSynth(4)
	s.rpm = func(float64) float64 { return 0 }
	s.depth = []float64{0, 0, 0, 0}
	spans, _ := track(s, 5)
	if len(spans) < 15 || len(spans) > 21 {
		t.Errorf("%d spans in 5 s, want about 20", len(spans))
	}
	for _, span := range spans {
		if span.Cycle || span.RPM() != 0 || span.State[0] != NoPulse {
			t.Fatalf("a standing engine gives %+v", span)
		}
		if d := math.Abs(float64(span.Mean[2]) - 88); d > 0.02 {
			t.Fatalf("mean off by %.3f kPa", d)
		}
	}
}

// A stall ends the cycles within half a second, and a restart is found again.
func TestStallAndRestart(t *testing.T) {
	s := newSynth(4)
	s.rpm = func(t float64) float64 {
		if t > 8 && t < 12 {
			return 0
		}
		return 1050
	}
	spans, _ := track(s, 20)
	for _, span := range spans {
		switch end := span.End(); {
		case end > 1.5 && end < 8 && !span.Cycle, end > 13.5 && !span.Cycle:
			t.Errorf("no cycle at %.2f s", span.Start)
		case span.Start > 8.5 && span.Start < 11.9 && span.Cycle:
			t.Errorf("a cycle at %.2f s in the stall", span.Start)
		}
	}
}

func TestHoseOffAndDeadChannel(t *testing.T) {
	s := newSynth(4)
	s.depth[1], s.base[1] = 0, 101
	s.depth[2], s.base[2] = 0, 40
	s.depth[3] = 6
	spans, _ := track(s, 5)
	last := spans[len(spans)-1]
	if !last.Cycle || math.Abs(last.RPM()-1050) > 5 {
		t.Fatalf("cycle %v at %.0f rpm", last.Cycle, last.RPM())
	}
	want := []State{OK, Ambient, NoPulse, WeakPulse}
	for i, w := range want {
		if last.State[i] != w {
			t.Errorf("cylinder %d is %s, want %s", i+1, last.State[i], w)
		}
	}
}

func TestGapsAreMarkedAndSpanned(t *testing.T) {
	s := newSynth(4)
	tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}, Ambient: 101.3})
	drop, dropped, marked, cycles := 0, 0.0, 0, 0
	s.run(10, func(x *sensor.Sample) {
		if drop++; drop%500 < 3 { // three frames lost every half second
			dropped += 0.001
			return
		}
		x.Gap, dropped = dropped, 0
		if span, ok := tracker.Push(x); ok && span.Cycle {
			cycles++
			if span.Gap {
				marked++
			}
		}
	})
	if cycles < 70 || marked < 15 || marked > 40 {
		t.Errorf("%d cycles, %d marked with a gap", cycles, marked)
	}
}

// An engine that is lost while the boundary is moved is lost at once: the span that follows begins there, and not where
// following began.
func TestLostWhileTheBoundaryMoves(t *testing.T) {
	t.Parallel()
	s := newSynth(4)
	tracker := NewTracker(Config{Ambient: 101.3, Channels: []int{0, 1, 2, 3}})
	var at, longest float64
	s.run(6, func(x *sensor.Sample) {
		span, ok := tracker.Push(x)
		if ok && !span.Cycle && at > 0 {
			longest = max(longest, span.Period)
		}
		if at == 0 && x.Time > 4 && tracker.follow.active {
			at = x.Time
			for _, kpa := range tracker.history.kpa { // nothing in it matches any more
				for i := range kpa {
					kpa[i] = 60 + 20*math.Sin(float64(i*i))
				}
			}
			tracker.shiftBoundary(bins / 4)
			if tracker.follow.active {
				t.Fatal("still followed")
			}
		}
	})
	if at == 0 || longest > stillSeconds+0.1 {
		t.Errorf("from %.2f s on a span of %.2f s without a cycle", at, longest)
	}
}
