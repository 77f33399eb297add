package cycle

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/sensor"
)

// loss is how samples get lost, and the limits of the readings.
type loss struct {
	name    string
	start   float64 // chance that a loss begins at a sample
	burst   int
	double  float64 // chance of a sample coming twice
	whole   float64 // kPa, worst difference of cycles without a gap
	holed   float64 // kPa rms of those with one
	covered float64 // share of the time in cycles, at least
}

// gapSeconds is how long samples are lost.
func gapSeconds() float64 { return effort.Of(14., 20.) }

// run tracks a recording with its losses; gaps are the times of the samples that
// came after one.
func (c *loss) run(s *synth) (spans []Span, tr *truth, gaps []float64) {
	random := rand.New(rand.NewPCG(1, 2))
	tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}, Ambient: 101.3})
	var before sensor.Sample
	left := 0
	push := func(x sensor.Sample) {
		if span, ok := tracker.Push(&x); ok {
			spans = append(spans, *span)
		}
	}
	tr = s.run(gapSeconds(), func(x *sensor.Sample) {
		if left == 0 && x.Time > 1.5 && random.Float64() < c.start {
			left = c.burst
		}
		if left > 0 {
			left--
			return
		}
		if missing := x.Time - before.Time - 0.001; before.N > 0 && missing > 0.0005 {
			x.Gap = missing
			gaps = append(gaps, x.Time)
		}
		before = *x
		push(*x)
		if random.Float64() < c.double {
			push(*x)
		}
	})
	return spans, tr, gaps
}

// Samples that are lost at random or in bursts, or come twice, spoil no reading. Cycles without
// a gap are as exact as ever; those with a gap are marked, and with 1 % of samples lost they are
// within 0.1 kPa too (demanded). Following goes on through bursts up to a quarter of a cycle;
// after longer ones there is a break.
func TestGaps(t *testing.T) {
	for row, c := range []loss{
		{"1 %", 0.01, 1, 0, 0.06, 0.1, 0.999},
		{"5 %", 0.05, 1, 0, 0.06, 0.1, 0.999},
		{"bursts of 3", 0.003, 3, 0, 0.06, 0.1, 0.999},
		{"bursts of 20", 0.0005, 20, 0, 0.06, 1.6, 0.999},
		{"bursts of 100", 0.0004, 100, 0, 0.06, 0.1, 0.5},
		{"bursts of 1000", 0.0003, 1000, 0, 0.06, 0.1, 0.2},
		{"doubled", 0, 1, 0.02, 0.06, 0.1, 0.999},
	} {
		for _, r := range some(row, runners) {
			t.Run(c.name+" "+r.name, func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row, 2)
				s := newSynth(4)
				s.runner = r.run
				hoses(s)
				c.judge(t, s)
			})
		}
	}
}

// judge runs a synth with the losses and holds its readings to the limits.
func (c *loss) judge(t *testing.T, s *synth) {
	spans, tr, gaps := c.run(s)
	var worst, square, cycles, in float64
	seconds := gapSeconds()
	holes := 0
	for i := range spans {
		x := &spans[i]
		if !x.Cycle || x.Start < 1.5 || x.End() > seconds-0.5 {
			continue
		}
		in += x.Period
		for _, g := range gaps {
			if g > x.Start+0.001 && g < x.End()-0.001 && !x.Gap {
				t.Fatalf("the cycle from %.3f to %.3f s hides a gap before %.3f s", x.Start, x.End(), g)
			}
		}
		m0, _ := tr.mean(0, x.Start)
		m1, _ := tr.mean(1, x.Start)
		d := math.Abs(float64(x.Mean[0]-x.Mean[1]) - (m0 - m1))
		if x.Gap {
			square += d * d
			holes++
		} else {
			worst = max(worst, d)
			cycles++
		}
	}
	rms := math.Sqrt(square / max(float64(holes), 1))
	t.Logf("worst %.3f in %v whole cycles, rms %.3f kPa in %d others, %.3f covered",
		worst, cycles, rms, holes, in/(seconds-2))
	if worst > c.whole || rms > c.holed || in < c.covered*(seconds-2)-0.2 {
		t.Errorf("want at most %v and %v kPa, at least %v covered", c.whole, c.holed, c.covered)
	}
}
