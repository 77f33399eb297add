package cycle

import (
	"math"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/sensor"
)

// trackWith runs a synth through a Tracker of a Config whose channels are filled
// in.
func trackWith(cfg Config, s *synth, seconds float64, each func(x *sensor.Sample) bool) ([]Span, *truth) {
	for c := range s.angles {
		cfg.Channels = append(cfg.Channels, c)
	}
	cfg.Ambient = 101.3
	tracker := NewTracker(cfg)
	var spans []Span
	tr := s.run(seconds, func(x *sensor.Sample) {
		if each != nil && !each(x) {
			return
		}
		if span, ok := tracker.Push(x); ok {
			spans = append(spans, *span)
		}
	})
	return spans, tr
}

func firing(angles ...float64) func(*synth) {
	return func(s *synth) {
		n := newSynth(len(angles))
		n.angles = angles
		*s = *n
	}
}

// restricted leaves about so many kPa of ripple of a hose.
func restricted(lag float64) func(*synth) {
	return func(s *synth) {
		for c := range s.lag {
			s.lag[c] = lag
		}
	}
}

func sweep(s *synth) {
	s.rpm = func(t float64) float64 {
		return 1050 + 3950*math.Max(0, 1-math.Abs(t-8)/4)
	}
}

// pace is a recording whose speed must be right.
type pace struct {
	name   string
	change []func(*synth)
	lost   float64 // seconds without a cycle, after the first
	first  float64 // seconds to the first, at most; through hoses of 0.8 s they settle first
}

var paces = []pace{
	{"unequal dips", []func(*synth){func(s *synth) { s.depth = []float64{50, 30, 55, 40} }}, 0, 1.2},
	{"dead channel", []func(*synth){func(s *synth) { s.depth[2] = 0 }}, 0, 1.2},
	{"three dead", []func(*synth){func(s *synth) { s.depth = []float64{50, 0, 0, 0} }}, 0, 1.2},
	{"weak channel", []func(*synth){func(s *synth) { s.depth[1] = 4 }}, 0, 1.2},
	{"misfires", []func(*synth){misfiring}, 0, 1.2},
	{"misfires lumpy spikes", []func(*synth){misfiring, lumpy, spikes}, 0, 1.2},
	{"8 kPa", []func(*synth){restricted(0.1)}, 0, 1.2},
	{"1 kPa", []func(*synth){restricted(0.8)}, 0, 5},
	{"2 kPa lumpy", []func(*synth){restricted(0.4), lumpy}, 3, 5},
	{"1 kPa spikes", []func(*synth){restricted(0.8), spikes}, 0.5, 5},
	{"one", []func(*synth){firing(0)}, 0, 1.2},
	{"360 twin", []func(*synth){firing(0, 360)}, 0, 1.2},
	{"360 twin lumpy", []func(*synth){firing(0, 360), lumpy}, 0, 1.2},
	{"180 twin", []func(*synth){firing(0, 180)}, 0, 1.2},
	{"180 twin lumpy", []func(*synth){firing(0, 180), lumpy}, 0, 1.2},
	{"270 twin", []func(*synth){firing(0, 270), lumpy}, 0, 1.2},
	{"V4", []func(*synth){firing(0, 180, 450, 630), lumpy}, 0, 1.2},
	{"crossplane", []func(*synth){firing(0, 270, 450, 540), lumpy}, 0, 1.2},
	{"triple", []func(*synth){firing(0, 240, 480), lumpy}, 0, 1.2},
	{"sweep", []func(*synth){sweep}, 0, 1.2},
	{"sweep hoses", []func(*synth){sweep, hoses}, 0, 1.2},
	{"sweep twin", []func(*synth){firing(0, 180), sweep, hoses}, 0, 1.2},
	{"250/s 700", []func(*synth){at(700, 250)}, 0, 1.2},
	{"250/s 700 lumpy", []func(*synth){at(700, 250), lumpy}, 0, 1.2},
	{"600", []func(*synth){at(600, 1000)}, 0, 1.2},
	{"5000", []func(*synth){at(5000, 1000), hoses}, 0, 1.2},
	{"cranking", []func(*synth){func(s *synth) {
		s.rpm = func(t float64) float64 { return 330 + 60*math.Sin(t*330/120*8*math.Pi) }
	}}, 0, 1.7}, // a slow cycle is told in a rhythm of three
	{"270 twin cranking 500/s", []func(*synth){firing(0, 270), at(313, 500)}, 0, 1.7},
}

// The speed is right, never half, double or another multiple, on every recording in the list.
func TestNeverAMultiple(t *testing.T) {
	for row, c := range paces {
		for _, r := range some(row, runners) {
			t.Run(c.name+" "+r.name, func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row, 3)
				s := newSynth(4)
				for _, change := range c.change {
					change(s)
				}
				s.runner = r.run
				c.hold(t, s)
			})
		}
	}
}

// hold tracks the recording and compares each cycle's speed with the truth.
func (c *pace) hold(t *testing.T, s *synth) {
	seconds := effort.Of(11., 16.)
	spans, tr := trackWith(Config{}, s, seconds, nil)
	first, lost, cycles, ripple, off := math.NaN(), 0.0, 0, 0.0, 0.0
	for i := range spans {
		x := &spans[i]
		if x.End() > seconds-0.5 {
			break
		}
		if !x.Cycle {
			if first == first && x.Start > c.first {
				lost += x.Period
			}
			continue
		}
		if first != first {
			first = x.Start
		}
		cycles++
		ripple += float64(x.Ripple(1))
		_, period := tr.mean(0, x.Start)
		if math.Abs(x.Period/period-1) > 0.1 {
			t.Fatalf("at %.2f s: %.0f rpm, truth %.0f", x.Start, x.RPM(), rpmSeconds/period)
		}
		off += period/x.Period - 1
	}
	t.Logf("%d cycles from %.2f s, lost %.2f s, ripple %.1f, mean speed off by %+.3f %%", cycles, first, lost,
		ripple/float64(cycles), 100*off/float64(cycles))
	if !(first < c.first) || lost > c.lost {
		t.Errorf("first cycle at %.2f s, lost %.2f s", first, lost)
	}
}

// While a speed changes so that no period holds for long, or holds and is lost at once, one is looked for every
// searchSeconds at most, not at each sample: a search takes as long as some thousand samples.
func TestSearchesAreNotMadeAtEachSample(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		rpm  func(at float64) float64
	}{
		{"cranked, then running up", func(at float64) float64 { return 300 + 900*min(max(at-1, 0), 1) }},
		{"running up in a third of a second", func(at float64) float64 { return 250 + 1000*min(3*at, 1) }},
		{"blips", func(at float64) float64 { return 1000 + 5000*max(0, 1-math.Abs(math.Mod(at, 2)-0.5)/0.4) }},
		{"jerks", func(at float64) float64 { return 700 + 2000*math.Mod(0.618*math.Floor(at/0.11), 1) }},
		{"dying", func(at float64) float64 { return 1000 - 160*at }},
	} {
		for row, r := range runners {
			t.Run(c.name+" "+r.name, func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row, 3)
				s := newSynth(4)
				s.rpm, s.runner = c.rpm, r.run
				tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}, Ambient: 101.3})
				var searches []float64
				s.run(effort.Of(6., 12.), func(sample *sensor.Sample) {
					const mark = -1 // no pressure: a search renews all of the grid
					tracker.acquire.grid[0][0] = mark
					if tracker.Push(sample); tracker.acquire.grid[0][0] != mark {
						searches = append(searches, sample.Time)
					}
				})
				least := math.Inf(1)
				for i := range searches {
					if i > 0 {
						least = min(least, searches[i]-searches[i-1])
					}
				}
				t.Logf("%d searches, %.4f s apart at least", len(searches), least)
				if len(searches) < 2 || least < searchSeconds-1/s.rate {
					t.Errorf("%d searches, %.4f s apart at least", len(searches), least)
				}
			})
		}
	}
}
